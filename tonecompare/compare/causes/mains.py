"""Hum of another time or place: the mix of mains lines changed alike in every voice.

What hums (transformers, dimmers, screens) sets the balance of the lines among each other; a
pickup, a split or a shield scales what it picks up. So where the balance of the lines changed in
every voice in the same way, the source or the place is another one. What moved in the total besides
may be the work's, such as a shield's, or that source's: the two cannot be told apart. A hum that
merely became stronger or weaker in all voices is not taken for that: a shield would do the same.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from tonecompare.arrays import FloatArray
from tonecompare.compare.cause_facts import MainsFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import VoiceRows, by_comparison
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_MAINS
from tonecompare.quantities.quiet_and_voice_entries import HUM_LINES
from tonecompare.session.model import Session

KIND = "mains"
#: Lines must be measured in this many places at least.
FEWEST_LINES = 3
FEWEST_VOICES = 2
#: A smaller change of balance is not worth naming, dB RMS over the lines.
SMALLEST_DB = 2.0
#: Lines wander by this much from minute to minute (assumed), dB.
WANDER_DB = 0.7
FOUND_P = 1e-3


def find_mains(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every comparison for hum of another source, time or place."""
    found = []
    for comparison, voices in by_comparison(differences).items():
        nominal = [_nominal(measurements.quiet, stage)
                   for stage in (voices[0].before, voices[0].after)]  # fmt: skip
        pattern = _patterns(voices)
        if pattern is None and None in nominal:
            continue
        found.append(_confound(comparison, nominal, pattern, _total_db(voices)))
    return ConfoundFindings(tuple(found))


def _nominal(quiet: pd.DataFrame, stage: str) -> float | None:
    """50 or 60, or None when no mains was found."""
    if quiet.empty:
        return None
    values = numbers(quiet[quiet["stage"] == stage], ["mains_hz"])[:, 0]
    values = values[np.isfinite(values)]
    if values.size == 0:
        return None
    return 50.0 if float(np.median(values)) < 55.0 else 60.0


def _patterns(voices: list[VoiceRows]) -> tuple[FloatArray, FloatArray, float] | None:
    """Change of each line against the mean of the lines: (mean over voices, se, agreement)."""
    rows = np.array([[voice.difference(line) for line in HUM_LINES] for voice in voices])
    high = np.array([[voice.interval(line)[1] for line in HUM_LINES] for voice in voices])
    there = np.isfinite(rows) & np.isfinite(high)
    lines = np.flatnonzero(there.all(axis=0))
    if rows.shape[0] < FEWEST_VOICES or lines.size < FEWEST_LINES:
        lines = np.flatnonzero(there.sum(axis=0) >= FEWEST_VOICES)
        keep = there[:, lines].all(axis=1) if lines.size else np.zeros(rows.shape[0], dtype=bool)
        if keep.sum() < FEWEST_VOICES or lines.size < FEWEST_LINES:
            return None
        rows, high = rows[keep], high[keep]
    rows, high = rows[:, lines], high[:, lines]
    variance = np.square((high - rows) / 2.0) + WANDER_DB**2
    centred = rows - rows.mean(axis=1, keepdims=True)
    mean = centred.mean(axis=0)
    se = np.sqrt(variance.mean(axis=0) / rows.shape[0])
    norm = np.linalg.norm(centred, axis=1) * np.linalg.norm(mean)
    with np.errstate(invalid="ignore", divide="ignore"):
        agreement = float(np.min(centred @ mean / norm))
    return mean, se, agreement


def _total_db(voices: list[VoiceRows]) -> float | None:
    """Mean change of hum over the voices; None unless it was shown in half of them."""
    total = np.array([voice.difference("hum_dbfs") for voice in voices])
    there = np.isfinite(total)
    shown = [voice.shown("hum_dbfs") for voice in voices]
    if not there.any() or 2 * sum(shown) < there.sum():
        return None
    mean = float(total[there].mean())
    return mean if abs(mean) >= SMALLEST_DB else None


def _confound(
    comparison: str,
    nominal: list[float | None],
    pattern: tuple[FloatArray, FloatArray, float] | None,
    total_db: float | None,
) -> Confound:
    before_hz, after_hz = nominal
    other_net = None
    if before_hz is not None and after_hz is not None and before_hz != after_hz:
        other_net = (before_hz, after_hz)
    value = p = most_db = None
    if pattern is not None:
        mean, se, agreement = pattern
        value = float(np.sqrt(np.mean(mean**2)))
        # One degree of freedom went into the mean of the lines.
        p = float(special.chdtrc(mean.size - 1.0, float(np.square(mean / se).sum())))
        if p < FOUND_P and value >= SMALLEST_DB and agreement > 0.5:
            most_db = float(mean[int(np.argmax(np.abs(mean)))])
    return Confound(
        comparison,
        "",
        KIND,
        other_net is not None or most_db is not None,
        value,
        "dB RMS",
        None,
        None,
        p,
        BY_MAINS,
        MainsFacts(other_net, most_db, None if most_db is None else total_db),
    )
