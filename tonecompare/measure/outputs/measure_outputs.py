"""Two outputs of the same pluck: delay, polarity, levels, and what a blend of them does.

:func:`measure_blend` takes all plucks of one two-channel recording and returns the rows of
``blend.csv`` with the curves behind them. The parts, one idea a module: ``partial_ratios`` (ratio
of the outputs per partial, from ``pluck_frames`` and ``phase_drift``), ``electronic_delay`` (delay
and polarity, with ``wiring_model`` and ``wiring_fit``), ``band_powers`` (powers and cross power per
third octave), ``level_match`` (level match and attack), ``mixing`` (blend map, notches, advice),
``output_quality`` (each output at the bench), ``recorded_blend`` (ratio and polarity of a recorded
blend).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare.errors import InputError
from tonecompare.measure.flags import words
from tonecompare.measure.measured import Measured
from tonecompare.measure.outputs.band_powers import band_cross, mean_cross, total_coherence
from tonecompare.measure.outputs.delay.correlation_lag import correlation_lag
from tonecompare.measure.outputs.delay.electronic_delay import fit_delay
from tonecompare.measure.outputs.delay.first_motion import delay_range_s
from tonecompare.measure.outputs.delay.partial_ratios import check_pair, partial_ratios
from tonecompare.measure.outputs.delay.wiring_model import DELAY_RANGE_S
from tonecompare.measure.outputs.level_match import level_difference_db, mean_known, transient_db
from tonecompare.measure.outputs.mixing import advise, blend_map
from tonecompare.measure.outputs.output_quality import output_quality, piezo_findings
from tonecompare.measure.outputs.results import (
    BandCross,
    BlendPair,
    BlendResult,
    DelayFit,
    PartialRatios,
    QuietPair,
)
from tonecompare.measure.table import MeasuredSubject, Subject

__all__ = ["BlendPair", "BlendResult", "DelayFit", "QuietPair", "measure_blend", "measure_delay"]


def measure_delay(pairs: Sequence[BlendPair]) -> DelayFit:
    """Return the electronic delay and polarity between the outputs from all plucks.

    See :func:`tonecompare.measure.outputs.delay.electronic_delay.fit_delay`.
    """
    by_note: dict[tuple[str, int | None], list[BlendPair]] = {}
    for pair in pairs:
        check_pair(pair)
        by_note.setdefault((pair.note, pair.string), []).append(pair)
    ratios = [partial_ratios(plucks) for plucks in by_note.values()]
    known: list[PartialRatios] = [ratio for ratio in ratios if ratio is not None]
    return fit_delay(known, delay_range_s=delay_range_s(pairs))


def measure_blend(pairs: Sequence[BlendPair], *, quiets: Sequence[QuietPair] = ()) -> BlendResult:
    """Measure two outputs from all plucks of one recording.

    Parameters
    ----------
    pairs
        Every pluck on both outputs.
    quiets
        The stretches with the strings damped, for handling noise.

    Returns
    -------
    BlendResult

    Raises
    ------
    InputError
        When there is no pluck, or a pair cannot be measured (see ``check_pair``).
    """
    if not pairs:
        raise InputError("no pluck on two outputs to measure: record magnetic and piezo together.")
    delay = measure_delay(pairs)
    notes = list(dict.fromkeys(pair.note for pair in pairs))
    of = {note: [pair for pair in pairs if pair.note == note] for note in notes}
    read = {note: [_read(pair) for pair in plucks] for note, plucks in of.items()}
    by_note: dict[str, BandCross] = {}
    for note, plucks in of.items():
        bands = [band_cross(pair, delay_s=delay.delay_s) for pair in plucks]
        measured = [band for band in bands if band is not None]
        if measured:
            by_note[note] = mean_cross(measured, equal_weight=False)
    together = mean_cross(list(by_note.values()), equal_weight=True)
    advice = advise(together, delay_s=delay.delay_s)
    rows = [
        _row("all", list(read.values()), together, _delay_of(delay, None), advice.fuller_polarity)
    ]
    for note, plucks in of.items():
        fuller = (
            advise(by_note[note], delay_s=delay.delay_s).fuller_polarity
            if note in by_note
            else None
        )
        of_note = _delay_of(delay, plucks)
        rows.append(_row(note, [read[note]], by_note.get(note), of_note, fuller))
    magnetic = output_quality(pairs, "magnetic", quiets=quiets)
    piezo = output_quality(pairs, "piezo", quiets=quiets)
    return BlendResult(
        rows=tuple(rows),
        delay=delay,
        bands=together,
        by_note=by_note,
        map=blend_map(together),
        advice=advice,
        magnetic=magnetic,
        piezo=piezo,
        findings=piezo_findings(
            pairs, magnetic, piezo, gain_db=delay.gain_db, node_db=delay.node_db
        ),
    )


@dataclass(frozen=True)
class _Pluck:
    """What one pluck's outputs show without the others; None where not measured."""

    level_difference_db: float | None
    transient_magnetic_db: float | None
    transient_piezo_db: float | None
    lag_us: float | None


def _read(pair: BlendPair) -> _Pluck:
    return _Pluck(
        level_difference_db(pair), _attack(pair, "magnetic"), _attack(pair, "piezo"), _lag_us(pair)
    )


def _row(
    note: str,
    groups: Sequence[Sequence[_Pluck]],
    bands: BandCross | None,
    delay: tuple[float | None, float | None, int | None],
    fuller_polarity: int | None,
) -> MeasuredSubject:
    """One row of blend.csv from the plucks of one note, or of all; "all" weighs notes equally.

    Stage and voice are named by who knows them.
    """

    def mean(name: str) -> float | None:
        return mean_known([mean_known([getattr(p, name) for p in group]) for group in groups])

    delay_s, error_s, polarity = delay
    levels = mean("level_difference_db")
    flags: list[str] = []
    if polarity is None:
        flags.append("polarity-not-determinable")
    if delay_s is None:
        flags.append("delay-not-determinable")
    if levels is None:
        flags.append("below-quiet")
    delay_us = None if delay_s is None else 1e6 * delay_s
    quantities = {
        "delay_us": Measured(delay_us, "µs", None if error_s is None else 1e6 * error_s),
        "polarity": Measured(polarity, ""),
        "coherence": Measured(None if bands is None else total_coherence(bands), ""),
        "level_difference_db": Measured(levels, "dB"),
        "transient_magnetic_db": Measured(mean("transient_magnetic_db"), "dB"),
        "transient_piezo_db": Measured(mean("transient_piezo_db"), "dB"),
        "fuller_polarity": Measured(fuller_polarity, ""),
        "lag_us": Measured(mean("lag_us"), "µs"),
    }
    return MeasuredSubject(Subject("blend", "", "", note=note), quantities, words(*flags))


def _delay_of(
    delay: DelayFit, plucks: Sequence[BlendPair] | None
) -> tuple[float | None, float | None, int | None]:
    """Delay, error and polarity over all notes, or of these plucks' note, the wiring fitted to all.

    Polarity is that of the wiring: common to all notes.
    """
    if plucks is None:
        return delay.delay_s, delay.delay_se_s, delay.polarity
    known = [delay.by_note_s[p.string_name] for p in plucks if p.string_name in delay.by_note_s]
    if not known or delay.delay_se_s is None:
        return None, None, delay.polarity
    low_s, high_s = DELAY_RANGE_S
    if not low_s <= known[0][0] <= high_s or known[0][1] > high_s - low_s:
        # Beyond what is looked for over all notes, one note's partials say nothing of a delay.
        return None, None, delay.polarity
    # What is unsure about the filters is common to all notes.
    return known[0][0], float(np.hypot(known[0][1], delay.delay_se_s)), delay.polarity


def _lag_us(pair: BlendPair) -> float | None:
    lag = correlation_lag(pair)
    return None if lag is None else 1e6 * lag.lag_s


def _attack(pair: BlendPair, output: str) -> float | None:
    magnetic = output == "magnetic"
    return transient_db(
        pair.magnetic if magnetic else pair.piezo,
        onset_index=pair.onset_index,
        rate_hz=pair.rate_hz,
        noise=pair.noise_magnetic if magnetic else pair.noise_piezo,
    )
