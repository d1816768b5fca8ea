"""Which statements a session's results make, each with the picture that shows it.

A picture works nothing out that stands in no table: it takes rows, curves and steps as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.curves.mean_phrases import note_levels
from tonecompare.compare.model import Response
from tonecompare.compare.worth.work_steps import Step
from tonecompare.language import tr
from tonecompare.measure.model import Measurements
from tonecompare.quantities.words import PARTIALS
from tonecompare.report.blind.results import Scored
from tonecompare.report.charts.chart_data import Compared, VoiceOutput, compared, pair_of, titles_of
from tonecompare.report.charts.in_time.decay import averaged_decay
from tonecompare.report.difference_views import Difference
from tonecompare.report.video import plots
from tonecompare.report.video.closing_card import closing
from tonecompare.report.video.statement import Statement, kind_of
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.tone_words import hz_told
from tonecompare.report.words.guitar_words.cost_words import amount, short
from tonecompare.report.words.listening_words.chart_words import (
    NO_SHIFT,
    how_sure,
    of_voices,
    size_of,
    title_of,
    voice_says,
)
from tonecompare.report.words.names import comparison_title, slug, voice_title
from tonecompare.report.words.numbers import number
from tonecompare.session.model import ComparedSide, Session

CENTROID, HUM, DECAY, LEVEL = "centroid_hz", "hum_dbfs", "decay_s", "level_dbfs"
#: What guitars are set beside each other by.
_OF_GUITARS = ("level_dbfs", CENTROID, HUM, "buzz_dbfs")
_PARTIALS_SHOWN = 12
UNBROKEN = "\N{NO-BREAK SPACE}"


def statements(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    *,
    worth: Sequence[Step] = (),
    heard: Sequence[Scored] = (),
) -> tuple[Statement, ...]:
    """Return every statement the results make, in the order of the comparisons."""
    from tonecompare.compare.voices_paired import with_sides

    _, sides = with_sides(session, measurements)
    every = compared(session, comparisons)
    found: list[Statement] = []
    for one in every:
        titles = titles_of(one.voices)
        for kind, quantity in (("brightness", CENTROID), ("hum", HUM)):
            found += _over_voices(one, titles, kind, quantity)
        for voice in one.voices:
            found += _response(one, voice, titles[voice], comparisons.responses)
            found += _partials(one, voice, titles[voice])
            found += _decay(one, voice, titles[voice], sides)
            found += _phrase(one, voice, titles[voice], sides)
    found += _blends(measurements)
    found += _cost(worth, session.worth.currency)
    found += guitars_beside(session, every)
    found.append(closing(every, heard))
    if len(every) < 2:
        return tuple(found)
    # Of several comparisons each picture names its own.
    names = {one.name: comparison_title(one.before, one.after) for one in every}
    return tuple(
        replace(one, sure=f"{names[one.comparison]}: {one.sure}") if one.comparison else one
        for one in found
    )


def chosen(
    made: Sequence[Statement], findings: Sequence[Finding], *, kinds: Sequence[str] = ()
) -> tuple[Statement, ...]:
    """Return the statements of these kinds, or, without any, those the findings speak of.

    A finding's strongest difference calls for its picture; blends, costs and guitars are shown
    where there are any, and the closing card always is.
    """
    if kinds:
        return tuple(one for one in made if one.kind in kinds or one.name in kinds)
    wanted = []
    for finding in findings:
        claims = [row for row in finding.rows if row.claimed]
        for row in sorted(claims, key=lambda row: -row.surely_thresholds):
            kind = kind_of(row)
            if kind == "hum" and row.quantity == "buzz_dbfs":
                continue  # the picture of hum does not show it
            voice = "" if kind in ("brightness", "hum") else row.voice
            wanted.append((kind, row.comparison, voice))
    return tuple(
        one
        for one in made
        if (one.kind, one.comparison, one.voice) in wanted
        or one.kind in ("phrase", "blend", "cost", "guitars", "closing")
    )


def _over_voices(
    one: Compared, titles: dict[VoiceOutput, str], kind: str, quantity: str
) -> Iterator[Statement]:
    rows = [row for row in one.rows if row.quantity == quantity and _whole(row)]
    if not rows:
        return
    rows.sort(key=lambda row: row.telling, reverse=True)
    top = rows[0]
    name = titles.get((top.voice, top.output), top.voice)
    several = len(rows) > 1
    shown = [
        plots.TwoValues(
            titles.get((row.voice, row.output), row.voice),
            float(row.before_value or 0.0),
            _after(row),
            size_of(row),
        )
        for row in rows
    ]
    yield Statement(
        kind,
        slug(f"{one.name} {kind}", longest=120),
        voice_says(name, quantity),
        size_of(top),
        how_sure(top) + (f"; {of_voices(rows)}" if several else ""),
        one.name,
        "",
        lambda slide: plots.two_sides(slide, shown, one.words),
    )


def _whole(row: Difference) -> bool:
    return None not in (row.difference, row.before_value, row.after_value)


def _after(row: Difference) -> float:
    """Return the value after, a control's drift taken out of it as of the difference."""
    before, moved = float(row.before_value or 0.0), float(row.difference or 0.0)
    if row.unit == "%":
        return before * (1.0 + moved / 100.0)
    return before + moved if row.unit == "dB" else float(row.after_value or 0.0)


def _response(
    one: Compared, voice: VoiceOutput, title: str, responses: Sequence[Response]
) -> Iterator[Statement]:
    for found in responses:
        if (found.comparison, found.voice, found.output) != (one.name, *voice):
            continue
        finite = np.flatnonzero(np.isfinite(found.difference_db))
        if finite.size < 2:
            return
        sure = np.where(
            np.sign(found.ci_low_db) == np.sign(found.ci_high_db), np.abs(found.difference_db), 0.0
        )
        top = int(np.nanargmax(np.nan_to_num(sure)))
        shown = bool(sure[top] > 0)
        at = hz_told(float(found.frequency_hz[top])).replace(" ", UNBROKEN)
        line = plots.Curve(
            found.frequency_hz, found.difference_db, "", True, found.ci_low_db, found.ci_high_db
        )
        most_db = float(found.difference_db[top if shown else finite[0]])
        much = f"{number(most_db, 1, signed=True)} dB"
        yield Statement(
            "response",
            slug(f"{one.name} {' '.join(voice)} response", longest=120),
            title_of(f"{title}:", tr("change over frequency")),
            much if shown else "",
            tr("at {frequency}; band: 95 % over notes", frequency=at) if shown else tr(NO_SHIFT),
            one.name,
            voice[0],
            lambda slide, line=line: plots.curves(  # type: ignore[misc]
                slide, [line], unit="dB", log=True, x_word="Hz"
            ),
        )


def _partials(one: Compared, voice: VoiceOutput, title: str) -> Iterator[Statement]:
    rows = {row.quantity: row for row in one.of(voice) if row.quantity in PARTIALS and row.matters}
    names = PARTIALS[:_PARTIALS_SHOWN]
    values = np.array(
        [
            np.nan if name not in rows or rows[name].difference is None else rows[name].difference
            for name in names
        ],
        dtype=float,
    )
    usable = [row for row in rows.values() if row.quantity in names and row.difference is not None]
    if len(usable) < 2:
        return
    top = max(usable, key=lambda row: row.telling)
    yield Statement(
        "partials",
        slug(f"{one.name} {' '.join(voice)} partials", longest=120),
        title_of(f"{title}:", tr("partial {n}", n=names.index(top.quantity) + 1)),
        size_of(top),
        how_sure(top),
        one.name,
        voice[0],
        lambda slide: plots.bars(slide, range(1, len(names) + 1), values, unit="dB"),
    )


def _decay(
    one: Compared, voice: VoiceOutput, title: str, measurements: Measurements
) -> Iterator[Statement]:
    row = next((row for row in one.of(voice) if row.quantity == DECAY and _whole(row)), None)
    both = averaged_decay(pair_of(measurements, one, voice, title))
    if row is None or both is None or np.count_nonzero(np.isfinite(both.before)) < 2:
        return
    if np.count_nonzero(np.isfinite(both.after)) < 2:
        return
    lines = [
        plots.Curve(both.axis, both.before, one.words[0]),
        plots.Curve(both.axis, both.after, one.words[1], after=True),
    ]
    yield Statement(
        "decay",
        slug(f"{one.name} {' '.join(voice)} decay", longest=120),
        voice_says(title, DECAY),
        size_of(row),
        how_sure(row),
        one.name,
        voice[0],
        lambda slide: plots.curves(slide, lines, unit="dB", x_word=tr("seconds")),
    )


def _phrase(
    one: Compared, voice: VoiceOutput, title: str, measurements: Measurements
) -> Iterator[Statement]:
    pair = pair_of(measurements, one, voice, title)
    row = next((row for row in one.of(voice) if row.quantity == LEVEL and _whole(row)), None)
    if not pair.phrase_before or row is None:
        return
    lines = [
        plots.Curve(*note_levels(side), one.words[place], after=place == 1)
        for place, side in enumerate((pair.phrase_before, pair.phrase_after))
    ]
    yield Statement(
        "phrase",
        slug(f"{one.name} {' '.join(voice)} phrase", longest=120),
        title_of(f"{title}:", tr("the riff, note by note")),
        size_of(row),
        how_sure(row),
        one.name,
        voice[0],
        lambda slide: plots.curves(slide, lines, unit="dB", x_word=tr("seconds")),
    )


def _blends(measurements: Measurements) -> Iterator[Statement]:
    for (stage, voice), result in measurements.blends.items():
        found = result.map
        if found is None:
            continue
        wired = found.interaction_db[0]
        known = np.isfinite(wired).all(axis=0)
        if np.count_nonzero(known) < 2:
            continue
        row, column = np.unravel_index(int(np.nanargmin(wired)), wired.shape)
        at = hz_told(float(found.band_hz[column])).replace(" ", UNBROKEN)
        deepest = number(float(wired[row, column]), 1, signed=True)
        yield Statement(
            "blend",
            slug(f"{stage} {voice} blend", longest=120),
            title_of(f"{voice_title(voice)}:", tr("blend as wired")),
            f"{deepest} dB",
            tr(
                "thins most at {frequency} and {percent} % piezo",
                frequency=at,
                percent=round(100 * float(found.ratio[row])),
            ),
            "",
            voice,
            lambda slide, found=found, wired=wired: plots.filling_map(  # type: ignore[misc]
                slide, found.ratio, found.band_hz, wired
            ),
        )


def _cost(worth: Sequence[Step], currency: str) -> Iterator[Statement]:
    for stock in dict.fromkeys(step.stock for step in worth):
        steps = [step for step in worth if step.stock == stock]
        money = all(step.total_money is not None for step in steps)
        places = [plots.Place(0.0, 0.0, stock)]
        for step in steps:
            far = [d.value for d in step.from_stock if d.family == "shape" and d.value is not None]
            if far:
                spent = float(step.total_money or 0.0) if money else step.total_hours
                places.append(plots.Place(spent, far[0], step.stage))
        if len(places) < 2 or max(place.x for place in places) <= 0:
            continue
        last = places[-1]
        what = (currency or tr("money")) if money else tr("hours")
        yield Statement(
            "cost",
            slug(f"{stock} cost", longest=120),
            title_of(f"{stock}:", tr("change for money") if money else tr("change for hours")),
            (amount(last.x, currency) if money else f"{short(last.x)} h").replace(" ", UNBROKEN),
            tr(
                "{stage}: tone changed by {times}, where 1 is just audible",
                stage=last.word,
                times=number(last.y, 1),
            ),
            "",
            "",
            lambda slide, places=places, what=what: plots.dots(  # type: ignore[misc]
                slide, places, x_word=what, y_word=tr("change in tone (1: just audible)")
            ),
        )


def guitars_beside(session: Session, every: Sequence[Compared]) -> Iterator[Statement]:
    """Several guitars beside the first: of each shared voice the difference that tells most."""
    rows: dict[tuple[str, str], dict[str, list[Difference]]] = {}
    for one in every:
        stages = [ComparedSide.named(side).stage for side in (one.before, one.after)]
        known = [session.stages[stage].instrument for stage in stages if stage in session.stages]
        if len(known) < 2 or known[0] == known[1]:
            continue
        for row in one.rows:
            if row.quantity in _OF_GUITARS and _whole(row):
                of_voice = rows.setdefault((row.voice, row.output), {})
                of_voice.setdefault(row.quantity, []).append(row)
    for (voice, _output), by_quantity in rows.items():
        shown_rows = [row for each in by_quantity.values() for row in each if row.claimed]
        if not shown_rows:
            continue
        top = max(shown_rows, key=lambda row: row.telling)
        found = by_quantity[top.quantity]
        shown = [
            plots.TwoValues(
                row.after, float(row.before_value or 0.0), _after(row), size_of(row),
            )
            for row in found
        ]  # fmt: skip
        yield Statement(
            "guitars",
            slug(f"{voice} guitars", longest=120),
            voice_says(voice_title(voice), top.quantity),
            size_of(top),
            f"{top.after}: {how_sure(top)}",
            "",
            voice,
            lambda slide, shown=shown, first=found[0].before: plots.two_sides(  # type: ignore[misc]
                slide, shown, (first, tr("the other"))
            ),
        )
