"""What a step of work brought and cost, in sentences: new voices first, then what became audible.

Nothing is called better: a step added voices, made differences likely audible or did not, and cost
so much. Where a later step brought less for more, its own numbers say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tonecompare.compare.worth.work_steps import NewVoice, Step
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, IN_QUIET, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.tone_words import (
    Part,
    bands_worth_telling,
    parts_of,
    unchanged_texts,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import count, listed, number
from tonecompare.report.words.phrases import audibility, change, not_shown, unchanged

HUM = "hum_dbfs"
#: What the quiet holds, in the order it is told.
NOISES = (HUM, "buzz_dbfs", "hiss_dbfs")
#: Hum has a sentence of its own; what else the quiet holds goes with it.
_OF_QUIET = frozenset((*IN_QUIET, "signal_to_hum_db"))
#: Things told of each voice that did not become likely audible.
_SAME_SHOWN = 2
VoiceRows = dict[str, list[Difference]]


def by_voice(rows: Sequence[Difference]) -> VoiceRows:
    """Return what is spoken of by the title of its voice; partials are left to the tables."""
    outputs: dict[str, set[str]] = {}
    for row in rows:
        outputs.setdefault(row.voice, set()).add(row.output)
    groups: VoiceRows = {}
    for row in rows:
        several = len(outputs[row.voice]) > 1
        title = voice_title(row.voice, output=row.output, several_outputs=several)
        groups.setdefault(title, []).append(row)
    return {
        title: [
            *(row for row in group if row.quantity in HEADLINE and row.difference is not None),
            *bands_worth_telling(group),
        ]
        for title, group in groups.items()
    }


def likely(rows: Sequence[Difference]) -> list[Part]:
    """Return what of one voice became likely audible, the noise in its quiet left out."""
    return parts_of(
        [r for r in rows if r.verdict == "likely-audible" and r.quantity not in _OF_QUIET]
    )


def step_sentences(step: Step, rows: Sequence[Difference]) -> tuple[str, ...]:
    """Return what there is to say of one step, what the money bought first.

    Parameters
    ----------
    step
        What it cost and added.
    rows
        The differences over all notes between the stage before and this one.
    """
    voices = by_voice(rows)
    told = [*_new(step), *_audible(step, voices), *_hum(voices)]
    return (*told, *_smaller(voices), *_cautions(step))


def names_of_new(step: Step) -> list[str]:
    """Return the titles of the voices a step added, once each."""
    return list(dict.fromkeys(voice_title(new.voice) for new in step.new_voices))


def noise_heard(voices: VoiceRows) -> list[str]:
    """Name what of the noise in the pauses became likely audible on any voice."""
    return [
        words_for(quantity).noun
        for quantity in NOISES
        if any(
            row.quantity == quantity and row.verdict == "likely-audible"
            for rows in voices.values()
            for row in rows
        )
    ]


def audible_cell(voices: VoiceRows) -> str:
    """Return what the table says of the shared voices: how much became likely audible, where."""
    if not voices:
        return "no voice shared"
    parts = {title: len(likely(rows)) for title, rows in voices.items() if likely(rows)}
    noise = noise_heard(voices)
    pauses = f"; in the pauses {listed(noise)}" if noise else ""
    if not parts:
        return f"nothing ({listed(list(voices))}){pauses}"
    of = ", ".join(f"{title} {n}" for title, n in parts.items())
    return f"{sum(parts.values())}: {of}{pauses}"


def _new(step: Step) -> Iterator[str]:
    new = names_of_new(step)
    if new:
        yield f"New: {count(len(new), 'voice')} that {step.before} does not have, {listed(new)}."
    names = [each.voice for each in step.new_voices]
    for each in step.new_voices:
        yield _nearest(each, several=names.count(each.voice) > 1)


def _nearest(new: NewVoice, *, several: bool) -> str:
    name = voice_title(new.voice, output=new.output, several_outputs=several)
    if new.distance is None or new.ci_low is None or new.ci_high is None:
        return f"{name}: no earlier voice shares enough notes to compare it with."
    return (
        f"{name}: nearest in shape is {voice_title(new.nearest)}, "
        f"{number(new.distance, 1)} hearing thresholds away "
        f"({number(new.ci_low, 1)} to {number(new.ci_high, 1)})."
    )


def _audible(step: Step, voices: VoiceRows) -> Iterator[str]:
    if not voices:
        yield f"No voice was recorded both at {step.before} and at {step.stage}."
        return
    heard = {title: likely(rows) for title, rows in voices.items()}
    told = [
        f"{title}: {listed([part.text for part in parts])}"
        for title, parts in heard.items()
        if parts
    ]
    if told:
        yield f"Likely audible on the voices both have: {'; '.join(told)}."
        return
    against = f"against its sister {step.before}" if step.sister else f"since {step.before}"
    yield f"Nothing likely audible {against} on {listed(list(voices))}."


def _hum(voices: VoiceRows) -> Iterator[str]:
    """Say what hum did, and buzz and hiss where they moved; the same of many voices at once."""
    for quantity in NOISES:
        said: dict[str, list[str]] = {}
        for title, rows in voices.items():
            for row in (row for row in rows if row.quantity == quantity):
                if quantity == HUM or row.verdict in ("likely-audible", "measurable"):
                    said.setdefault(_of_noise(row), []).append(title)
        if said:
            told = "; ".join(f"{listed(titles)} {text}" for text, titles in said.items())
            yield f"{words_for(quantity).label}: {told}."


def _of_noise(row: Difference) -> str:
    noun = f"{words_for(row.quantity).noun} "
    if row.verdict == "no-change":
        return unchanged(row).removeprefix(noun)
    if row.verdict == "undecided":
        return f"open, {not_shown(row).removeprefix(noun)}"
    told = change(row).removeprefix(noun)
    heard = audibility(row)
    cause = "with another possible cause than the work" if row.verdict == "confounded" else heard
    return f"{told}, {cause}" if cause else told


def _smaller(voices: VoiceRows) -> Iterator[str]:
    """Say what changed less, what did not, and how much is open."""
    quiet = {title: [r for r in rows if r.quantity not in _OF_QUIET]
             for title, rows in voices.items()}  # fmt: skip
    measurable = {t: [r for r in rows if r.verdict == "measurable"] for t, rows in quiet.items()}
    told = [
        f"{title}: {listed([part.text for part in parts_of(rows)])}"
        for title, rows in measurable.items()
        if rows
    ]
    if told:
        yield f"Measurable, at most audible in direct comparison: {'; '.join(told)}."
    same = {t: [r for r in rows if r.verdict == "no-change"] for t, rows in quiet.items()}
    told = [
        f"{title}: {listed(unchanged_texts(rows)[:_SAME_SHOWN])}"
        for title, rows in same.items()
        if rows and unchanged_texts(rows)
    ]
    if told:
        yield f"Not expected to be audible: {'; '.join(told)}."
    rows = [row for each in quiet.values() for row in each if row.quantity not in BAND_SHAPES]
    unsure = [sum(row.verdict == name for row in rows) for name in ("undecided", "confounded")]
    if unsure[0]:
        yield f"Open: {unsure[0]} of {count(len(rows), 'difference')}; see the table above."
    if unsure[1]:
        yield (
            f"{count(unsure[1], 'difference')} may come from something else than the work; see "
            "the table above."
        )


def _cautions(step: Step) -> Iterator[str]:
    if step.sister:
        yield (
            f"{step.stage} is another guitar than {step.before}: all of this includes what two "
            "guitars of one model differ in before anyone touches them."
        )
    if len(step.work) > 1:
        yield (
            f"{count(len(step.work), 'piece')} of work lie between the two recordings: what each "
            "of them did cannot be told apart."
        )
    if step.confounds:
        kinds = listed([kind.replace("-", " ") for kind in step.confounds])
        yield f"Not all of it need be the work's: {kinds} also moved since {step.before}."


def heard_in(voices: VoiceRows) -> int:
    """Count what became likely audible on all voices, the noise in the pauses left out."""
    return sum(len(likely(rows)) for rows in voices.values())
