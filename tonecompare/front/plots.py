"""Every chart of the report's page, drawn for a script: one method each, a Figure back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.voices_paired import with_sides
from tonecompare.compare.worth.work_steps import Step
from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.results import BlendResult
from tonecompare.quantities.words import HEADLINE
from tonecompare.report.charts.chart_data import Compared, VoiceOutput, compared, pair_of, titles_of
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed
from tonecompare.session.model import Session

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, eq=False, repr=False)
class Plots:
    """Charts of one session.

    ``voice`` is a voice's name. ``comparison`` ("before to after") and ``output`` ("magnetic",
    "piezo", "blend") are needed only where there are several. Each method returns a matplotlib
    Figure and raises :class:`InputError` with what there is when what was asked for is not there.
    """

    session: Session
    measurements: Measurements
    comparisons: Comparisons
    worth_steps: tuple[Step, ...] = ()

    def __repr__(self) -> str:
        return (
            "Plots: spectrum, partials, decay, phrase, hum, response (each of a voice), overview, "
            "blend, likeness, worth, voices"
        )

    def spectrum(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw the averaged spectrum in dBFS over Hz at both stages, their difference below."""
        from tonecompare.report.charts.spectrum import spectrum_chart

        return spectrum_chart(self._pair(voice, comparison, output))

    def partials(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw the levels of partials 1 to 24 in dB against all of them together."""
        from tonecompare.report.charts.partials import partials_chart

        return partials_chart(self._pair(voice, comparison, output))

    def decay(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw the decay in dB over seconds after the onset."""
        from tonecompare.report.charts.in_time.decay import decay_chart

        return decay_chart(self._pair(voice, comparison, output))

    def phrase(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw a riff's level in dBFS and brightness in kHz over seconds, both stages in one."""
        from tonecompare.report.charts.in_time.phrase import phrase_chart

        pair = self._pair(voice, comparison, output)
        if not pair.phrase_before:
            raise InputError(tr("{voice}: no riff was played at both stages.", voice=pair.title))
        return phrase_chart(pair)

    def hum(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw the spectrum of the quiet in dBFS over Hz, mains lines marked."""
        from tonecompare.report.charts.hum import hum_chart

        return hum_chart(self._pair(voice, comparison, output))

    def response(self, voice: str, *, comparison: str = "", output: str = "") -> Figure:
        """Draw by how many dB after differs from before over Hz, with its 95 % band."""
        from tonecompare.report.charts.response import response_chart

        one = self._comparison(comparison)
        key = self._voice(one, voice, output)
        for each in self.comparisons.responses:
            if (each.comparison, each.voice, each.output) == (one.name, *key):
                return response_chart(each, title=titles_of(one.voices)[key])
        raise InputError(
            tr(
                "{comparison}, {voice}: no response was worked out; too few shared notes.",
                comparison=one.name,
                voice=voice,
            )
        )

    def overview(self, *, comparison: str = "") -> Figure:
        """Draw every difference of a comparison with its interval, in hearing thresholds."""
        from tonecompare.report.charts.overview import overview_chart

        one = self._comparison(comparison)
        rows = [row for row in one.rows if row.quantity in HEADLINE]
        if not any(row.in_thresholds is not None for row in rows):
            raise InputError(
                tr(
                    "{comparison}: no difference with a hearing threshold to draw.",
                    comparison=one.name,
                )
            )
        return overview_chart(
            rows, titles_of(one.voices), title=tr("Differences in hearing thresholds")
        )

    def blend(self, voice: str, *, stage: str = "") -> Figure:
        """Draw where each ratio of the two outputs of a voice fills and thins."""
        from tonecompare.report.charts.blend import blend_map_chart

        (stage, voice), found = self._blend(voice, stage)
        return blend_map_chart(found.map, title=f"{voice_title(voice)}, {stage}")

    def likeness(self, voice: str, *, stage: str = "", reference: str = "") -> Figure:
        """Draw how far each blend of a voice is from a reference recording of its stage."""
        from tonecompare.report.charts.blend import likeness_chart

        key, _ = self._blend(voice, stage)
        near = {
            one.reference: one
            for one in self.comparisons.likenesses
            if (one.stage, one.voice) == key
        }
        return likeness_chart(
            near[_one_of(near, reference, tr("reference"))],
            title=f"{voice_title(key[1])}, {key[0]}",
        )

    def voices(self, *, stage: str = "") -> Figure:
        """Draw the level, octave bands and hum of every voice of a stage against the loudest."""
        from tonecompare.report.charts.voices import voices_chart
        from tonecompare.report.words.voice_words import chart_title, sound_titles

        every = {one.stage: one for one in self.comparisons.voices}
        one = every[_one_of(every, stage, tr("stage with two voices or more"))]
        titles = sound_titles(one)
        return voices_chart(one, titles, title=chart_title(one, titles))

    def worth(self, *, instrument: str = "", axis: str = "money") -> Figure:
        """Draw each step on an instrument: its cost (``money`` or ``hours``), how far it moved."""
        from tonecompare.report.charts.worth import worth_chart
        from tonecompare.report.page.guitars.worth_section import differences_of, worth_row
        from tonecompare.report.words.guitar_words.step_returns import finding
        from tonecompare.report.words.guitar_words.step_words import by_voice

        lines: dict[str, list[Step]] = {}
        for step in self.worth_steps:
            lines.setdefault(step.instrument, []).append(step)
        line = lines[_one_of(lines, instrument, tr("instrument with work"))]
        if axis not in ("money", "hours"):
            raise InputError(tr('axis="{given}": "money" or "hours".', given=axis))
        if axis == "money" and any(step.total_money is None for step in line):
            raise InputError(tr('The money spent is not known; draw it over axis="hours".'))
        if axis == "hours":
            line = [replace(step, money=None, parts_cost=0.0) for step in line]
        voices = [by_voice(differences_of(step, self.comparisons)) for step in line]
        currency = self.session.worth.currency
        return worth_chart(
            [worth_row(step, currency) for step in line], title=finding(line, voices)
        )

    def _comparison(self, name: str) -> Compared:
        every = {one.name: one for one in compared(self.session, self.comparisons)}
        return every[_one_of(every, name, tr("comparison"))]

    def _voice(self, one: Compared, voice: str, output: str) -> VoiceOutput:
        outputs = [each for name, each in one.voices if name == voice]
        if not outputs:
            there = listed(list(dict.fromkeys(name for name, _ in one.voices))) or tr("none")
            raise InputError(
                tr(
                    '{comparison}: no voice "{voice}" was compared. There is: {there}.',
                    comparison=one.name,
                    voice=voice,
                    there=there,
                )
            )
        return voice, _one_of(dict.fromkeys(outputs), output, tr("output"))

    def _pair(self, voice: str, comparison: str, output: str) -> ChartPair:
        one = self._comparison(comparison)
        key = self._voice(one, voice, output)
        _, measurements = with_sides(self.session, self.measurements)
        return pair_of(measurements, one, key, titles_of(one.voices)[key])

    def _blend(self, voice: str, stage: str) -> tuple[tuple[str, str], BlendResult]:
        stages = {place: one for (place, name), one in self.measurements.blends.items()
                  if name == voice}  # fmt: skip
        what = tr('stage with two outputs of "{voice}"', voice=voice)
        place = _one_of(stages, stage, what)
        return (place, voice), stages[place]


def _one_of(there: Mapping[str, object], wanted: str, what: str) -> str:
    """Return the wanted name, or the only one; raise with the choice when neither is there."""
    if wanted in there:
        return wanted
    if not wanted and len(there) == 1:
        return next(iter(there))
    choice = tr("There is: {there}.", there=listed(list(there))) if there else tr("There is none.")
    asked = (
        tr('No {what} "{name}".', what=what, name=wanted)
        if wanted
        else tr("Which {what}?", what=what)
    )
    raise InputError(f"{asked} {choice}")
