"""How a change of tone is said: octave bands that moved alike in one phrase, with the resonance.

A report holds eight bands, a resonance and a centroid for the same thing. Neighbouring bands that
moved the same way are one phrase; where the resonance moved that way too it stands behind them;
the centroid is left to the tables where bands say it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tonecompare.language import tr
from tonecompare.quantities.octave_bands import BAND_SHAPES, BANDS
from tonecompare.quantities.words import words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import bound, decimal_mark, listed, magnitude
from tonecompare.report.words.phrases import change, unchanged

RESONANCE, CENTROID = "resonance_hz", "centroid_hz"
#: What a player asks before the tone.
_BEFORE_THE_TONE = ("decay_s", "level_dbfs")
#: Bands from here on are those that a coil's resonance moves (1.4 kHz up).
_TOP = 5
#: Another band of a run is named beside the first where it moved by so much more, dB.
_FARTHER_DB = 1.0
#: Fewer bands than this are not called the balance of the bands.
_FEWEST_OF_A_BALANCE = 3


@dataclass(frozen=True)
class Part:
    """One thing to be said: its words, its short name, and the differences it rests on.

    ``lead`` is the difference whose size, verdict and adjustment speak for it.
    """

    text: str
    noun: str
    lead: Difference
    rows: tuple[Difference, ...]


def parts_of(rows: Sequence[Difference]) -> list[Part]:
    """Return what differences of one voice say, those of the tone put together.

    Parameters
    ----------
    rows
        Differences of one voice and output with claims, or all confounded.

    Returns
    -------
    list of Part
        Those of the tone first, the others in the order given.
    """
    bands = {BAND_SHAPES.index(row.quantity): row for row in rows if row.quantity in BAND_SHAPES}
    resonance = next((row for row in rows if row.quantity == RESONANCE), None)
    others = [
        Part(change(row), words_for(row.quantity).noun, row, (row,))
        for row in rows
        if row.quantity not in (*BAND_SHAPES, RESONANCE)
        and not (row.quantity == CENTROID and bands)
    ]
    tone = [_of_run(run, bands) for run in _runs(bands)]
    if resonance is not None:
        told = [part for part in tone if _goes_with(resonance, part)]
        if told:
            first = told[0]
            joined = Part(
                tr("{tone} with the {resonance}", tone=first.text, resonance=_moved(resonance)),
                first.noun,
                first.lead,
                (*first.rows, resonance),
            )
            tone[tone.index(first)] = joined
        else:
            tone.append(Part(_moved(resonance), tr("resonance"), resonance, (resonance,)))
    return [*tone, *others]


def bands_worth_telling(rows: Sequence[Difference]) -> list[Difference]:
    """Return the bands of one voice that may be spoken of: decided, and enough of the sound.

    A faint band (``matters``) is told with neighbours that moved with it, never alone.
    """
    bands = {
        BAND_SHAPES.index(row.quantity): row
        for row in rows
        if row.quantity in BAND_SHAPES and row.verdict != "undecided" and row.difference is not None
    }
    claimed = {k: row for k, row in bands.items() if row.verdict != "no-change"}
    told = [run for run in _runs(claimed) if any(bands[k].matters for k in run)]
    same = [k for k, row in bands.items() if k not in claimed and row.matters]
    return [bands[k] for k in sorted([*(k for run in told for k in run), *same])]


def balance_unchanged(rows: Sequence[Difference]) -> str:
    """Say over which bands the balance did not change, "" where they are too few.

    ``balance of the bands from 89 Hz to 5.6 kHz unchanged within 0.7 dB``
    """
    same = {
        BAND_SHAPES.index(row.quantity): row
        for row in rows
        if row.quantity in BAND_SHAPES and row.ci_low is not None and row.ci_high is not None
    }
    run = max(_runs(same, one_way=False), key=len, default=[])
    if len(run) < _FEWEST_OF_A_BALANCE:
        return ""
    widest = max(max(abs(same[k].ci_low or 0.0), abs(same[k].ci_high or 0.0)) for k in run)
    low, high = BANDS[run[0]].edges_hz[0], BANDS[run[-1]].edges_hz[1]
    row = same[run[0]]
    places = {"low": hz_told(low), "high": hz_told(high), "within": bound(-widest, widest, "dB")}
    if row.sisters:
        return tr(
            "balance of the bands from {low} to {high} the same as its sister's within {within}",
            **places,
        )
    if row.between_voices:
        return tr("balance of the bands from {low} to {high} the same within {within}", **places)
    return tr("balance of the bands from {low} to {high} unchanged within {within}", **places)


def unchanged_texts(rows: Sequence[Difference]) -> list[str]:
    """Say what did not change; the bands in one phrase, which stands for the centroid too."""
    balance = balance_unchanged(rows)
    first = [unchanged(row) for row in rows if row.quantity in _BEFORE_THE_TONE]
    rest = [
        unchanged(row)
        for row in rows
        if row.quantity not in (*BAND_SHAPES, *_BEFORE_THE_TONE)
        and not (row.quantity == CENTROID and balance)
    ]
    return [*first, *([balance] if balance else []), *rest]


def _runs(bands: dict[int, Difference], *, one_way: bool = True) -> list[list[int]]:
    """Return neighbouring bands that moved the same way, lowest first."""
    runs: list[list[int]] = []
    for k in sorted(bands):
        here = bands[k].difference or 0.0
        last = bands[runs[-1][-1]].difference or 0.0 if runs else 0.0
        if runs and runs[-1][-1] == k - 1 and (not one_way or (here > 0.0) == (last > 0.0)):
            runs[-1].append(k)
        else:
            runs.append([k])
    return runs


def _of_run(run: list[int], bands: dict[int, Difference]) -> Part:
    """Say one run: by the band of the strongest verdict that holds most of the sound."""
    rows = [bands[k] for k in run]
    heard = [row for row in rows if row.matters] or rows
    sure = [row for row in heard if row.verdict == "likely-audible"] or heard
    lead = max(sure, key=lambda row: max(_level(row.before_value), _level(row.after_value)))
    if len(run) == 1:
        return Part(change(lead), BANDS[run[0]].words, lead, (lead,))
    names = listed(list(dict.fromkeys(BANDS[k].word for k in run)))
    low, high = BANDS[run[0]].edges_hz[0], BANDS[run[-1]].edges_hz[1]
    if run[-1] == len(BANDS) - 1:
        noun = tr("{bands} from {low} up", bands=names, low=hz_told(low))
    elif run[0] == 0:
        noun = tr("{bands} below {high}", bands=names, high=hz_told(high))
    else:
        noun = tr("{bands} from {low} to {high}", bands=names, low=hz_told(low), high=hz_told(high))
    size, ends = magnitude(lead.difference or 0.0, lead.ci_low, lead.ci_high, "dB")
    rises = (lead.difference or 0.0) > 0.0
    if lead.sisters and rises:
        said = tr("{bands} {size} higher than its sister", bands=noun, size=size)
    elif lead.sisters:
        said = tr("{bands} {size} lower than its sister", bands=noun, size=size)
    elif rises:
        said = tr("{bands} {size} up", bands=noun, size=size)
    else:
        said = tr("{bands} {size} down", bands=noun, size=size)
    inside = [text for text in (ends, _farther(lead, rows)) if text]
    brackets = f" ({'; '.join(inside)})" if inside else ""
    return Part(f"{said}{brackets}", noun, lead, tuple(rows))


def _farther(lead: Difference, rows: Sequence[Difference]) -> str:
    """Say how far the band that moved most did, "" where that is much as the band told."""
    most = max(rows, key=lambda row: abs(row.difference or 0.0))
    if abs(most.difference or 0.0) - abs(lead.difference or 0.0) < _FARTHER_DB:
        return ""
    size, _ = magnitude(most.difference or 0.0, most.ci_low, most.ci_high, "dB")
    band = BANDS[BAND_SHAPES.index(most.quantity)]
    return tr("{size} at {hz}", size=size, hz=hz_told(band.nominal_hz))


def _level(value: float | None) -> float:
    return float("-inf") if value is None else value


def _goes_with(resonance: Difference, part: Part) -> bool:
    """Whether a run of bands moved as the resonance would move it: the top, the same way."""
    tops = [row for row in part.rows if BAND_SHAPES.index(row.quantity) >= _TOP]
    way = resonance.difference or 0.0
    return any((row.difference or 0.0) * way > 0.0 for row in tops)


def _moved(row: Difference) -> str:
    """``resonance moved from 3.4 to 2.7 kHz (13 to 25 % lower)``."""
    if row.before_value is None or row.after_value is None or row.difference is None:
        return change(row)
    _, ends = magnitude(row.difference, row.ci_low, row.ci_high, row.unit)
    crosses = row.ci_low is not None and row.ci_high is not None and row.ci_low < 0 < row.ci_high
    if crosses:
        ends = f"{ends} %"
    elif row.difference > 0:
        ends = tr("{interval} % higher", interval=ends)
    else:
        ends = tr("{interval} % lower", interval=ends)
    before, after = hz_told(row.before_value), hz_told(row.after_value)
    if before.split()[-1] == after.split()[-1]:
        before = before.split()[0]
    if row.sisters:
        told = tr(
            "resonance at {after}, its sister's at {before}",
            after=after,
            before=hz_told(row.before_value),
        )
    elif row.between_voices:
        told = tr("resonance at {after} instead of {before}", after=after, before=before)
    else:
        told = tr("resonance moved from {before} to {after}", before=before, after=after)
    return f"{told} ({ends})"


def hz_told(value: float) -> str:
    """Write a frequency with two digits: ``89 Hz``, ``2.8 kHz``, ``11 kHz``."""
    rounded = float(f"{value:.2g}")
    text = f"{rounded:g} Hz" if rounded < 1000.0 else f"{rounded / 1000.0:.3g} kHz"
    return text.replace(".", decimal_mark())
