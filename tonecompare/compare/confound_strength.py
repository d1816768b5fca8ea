"""Pick strength: a harder pluck is louder and brighter together.

Found where level (or peak) and tilt both moved the same way, by a ratio that hands can make. The
ratio is that of real soft and hard plucks (:data:`TYPICAL_TILT`), sharpened by the slope of tilt
on level from pluck to pluck of one note within the session where that slope is well enough known
(with an ordinary spread of half a decibel it is not). A change of pickup that is louder and
brighter in just this ratio looks the same: it cannot be told apart, and is called confounded too.

Differences are given again with the strength taken out: the level difference times the slope, on
each octave of partials. What is left of level itself cannot be said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.compare.confound_rows import (
    Row,
    VoiceRows,
    records,
    rows_of,
    sign_words,
    voices_of,
)
from tonecompare.compare.findings import Adjustment, ConfoundFindings
from tonecompare.compare.model import Confound
from tonecompare.compare.picking import numbers
from tonecompare.compare.quantities import pluck_quantities
from tonecompare.measure.columns import N_PARTIALS, PARTIAL_LEVELS
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

FloatArray = NDArray[np.float64]

KIND = "pick-strength"
#: How much the tilt rises with each decibel of a harder pluck, dB/octave per dB: soft against hard
#: plucks of two real guitars, eight notes, 0.20-0.33 (one note, almost without a change of level,
#: beyond), and one standard deviation between hands and strings.
TYPICAL_TILT = (0.25, 0.08)
#: A ratio within this many standard deviations is one that hands can make.
REACH = 3.0
#: From this change of level on, decay and attack go with the strength as well.
MOVES_DECAY_DB = 3.0
#: Fewer plucks than this beyond the means of their notes give no slope.
FEWEST_PLUCKS = 12


@dataclass(frozen=True)
class Slope:
    """Tilt per decibel of level, with its standard error."""

    value: float
    se: float


def find_strength(
    session: Session, measurements: Measurements, differences: pd.DataFrame
) -> ConfoundFindings:
    """Test every voice for a hand that picked harder or softer in one stage."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for voice in voices_of(differences):
        level, tilt = (voice.difference(q) for q in ("level_dbfs", "tilt_db_per_octave"))
        if not (np.isfinite(level) and np.isfinite(tilt)):
            continue
        slope = combined_slope(within_session_slope(voice, measurements))
        if not is_found(voice, slope):
            confounds.append(_confound(voice, found=False))
            continue
        confounds.append(_confound(voice, found=True))
        adjustments.extend(_adjusted(voice, records(rows_of(differences, voice)), slope))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def is_found(voice: VoiceRows, slope: Slope) -> bool:
    """Whether level and tilt moved together as a hand moves them."""
    if not (voice.shown("level_dbfs") and voice.shown("tilt_db_per_octave")):
        return False
    level, tilt = (voice.difference(q) for q in ("level_dbfs", "tilt_db_per_octave"))
    if level * tilt <= 0.0:
        return False
    # Uncertainty of the two differences, as standard errors from their 95 % intervals.
    se_level, se_tilt = (
        (voice.number(q, "ci_high") - voice.number(q, "ci_low")) / 4.0
        for q in ("level_dbfs", "tilt_db_per_octave")
    )
    apart = abs(tilt - slope.value * level)
    reach = np.sqrt((slope.se * level) ** 2 + se_tilt**2 + (slope.value * se_level) ** 2)
    return bool(apart <= REACH * reach)


def within_session_slope(voice: VoiceRows, measurements: Measurements) -> Slope | None:
    """Return the slope of tilt on level among plucks of one note in one stage, both stages pooled.

    ``sum l t / sum l²`` of the deviations from each note's mean; None with too few plucks.
    """
    plucks = measurements.plucks
    of = plucks[
        plucks["stage"].isin([voice.before, voice.after])
        & (plucks["voice"].astype(str) == voice.voice)
        & (plucks["output"].astype(str) == voice.output)
    ]
    values = numbers(of, ["level_dbfs", "tilt_db_per_octave"])
    there = np.isfinite(values).all(axis=1)
    groups = of[there].groupby(["stage", "note"], sort=False).ngroup().to_numpy()
    values = values[there]
    if values.shape[0] == 0:
        return None
    count = np.bincount(groups)
    mean = np.stack([np.bincount(groups, values[:, k]) / count for k in range(2)], axis=1)
    level, tilt = (values - mean[groups]).T
    freedom = values.shape[0] - count.size - 1
    spread = float(np.square(level).sum())
    if freedom < FEWEST_PLUCKS or spread <= 0.0:
        return None
    value = float((level * tilt).sum()) / spread
    left = float(np.square(tilt - value * level).sum()) / freedom
    return Slope(value, float(np.sqrt(left / spread)))


def combined_slope(within: Slope | None) -> Slope:
    """Return the typical slope, sharpened by the session's own, each by its precision.

    A slope from pluck to pluck is diluted by the level's own scatter, so it counts only for what
    it is worth beside the typical one.
    """
    typical = Slope(*TYPICAL_TILT)
    if (
        within is None
        or within.se >= typical.se
        or abs(within.value - typical.value) > 3.0 * (typical.se)
    ):
        return typical
    weights = np.array([typical.se**-2.0, within.se**-2.0])
    value = float(np.average([typical.value, within.value], weights=weights))
    return Slope(value, float(weights.sum() ** -0.5))


def _explains(level_db: float) -> tuple[str, ...]:
    families = {"level", "spectrum", "partials"}
    if abs(level_db) >= MOVES_DECAY_DB:
        families |= {"decay", "attack"}
    own = tuple(q.column for q in pluck_quantities() if q.family in families)
    return (*own, "signal_to_hum_db")


def _confound(voice: VoiceRows, *, found: bool) -> Confound:
    level, tilt = (voice.difference(q) for q in ("level_dbfs", "tilt_db_per_octave"))
    if found:
        how = "harder" if level > 0.0 else "softer"
        came = "louder and brighter" if level > 0.0 else "softer and duller"
        sentence = (
            f"{voice.voice} came out {came} together ({sign_words(level)} dB, {sign_words(tilt)} "
            f"dB per octave), as {how} picking does: the hand explains it as well as the work "
            "would."
        )
    else:
        sentence = (
            f"No sign of another pick strength on {voice.voice}: level and brightness did not move "
            "together as a harder or softer hand moves them."
        )
    p = max(voice.number(q, "p_value") for q in ("level_dbfs", "tilt_db_per_octave"))
    return Confound(
        voice.comparison,
        voice.voice,
        KIND,
        found,
        level,
        "dB",
        voice.number("level_dbfs", "ci_low"),
        voice.number("level_dbfs", "ci_high"),
        p,
        _explains(level),
        sentence,
    )


def _adjusted(voice: VoiceRows, rows: list[Row], slope: Slope) -> Iterator[Adjustment]:
    """Yield tilt and partial levels with the strength taken out, per note and over the notes."""
    strength = {
        str(row["note"]): (float(row["difference"]), float(row["ci_high"] - row["ci_low"]) / 2.0)
        for row in rows
        if row["quantity"] == "level_dbfs"
    }
    per_level = _effects()
    for row in rows:
        effect = per_level.get(str(row["quantity"]))
        level = strength.get(str(row["note"]))
        if effect is None or level is None or not np.isfinite([*level, row["ci_low"]]).all():
            continue
        difference = float(row["difference"]) - slope.value * effect * level[0]
        half = float(
            np.sqrt(
                (float(row["ci_high"] - row["ci_low"]) / 2.0) ** 2
                + (2.0 * slope.se * effect * level[0]) ** 2
                + (slope.value * effect * level[1]) ** 2
            )
        )
        yield Adjustment(
            voice.comparison,
            voice.voice,
            voice.output,
            str(row["note"]),
            str(row["quantity"]),
            str(row["unit"]),
            difference,
            difference - half,
            difference + half,
            KIND,
        )


def _effects() -> dict[str, float]:
    """Return what one dB/octave of tilt does to tilt (1) and to the partials' balance, dB.

    Partials rise by log2 n, less the rise of their power sum, taken for amplitudes 1/n.
    """
    order = np.arange(1, N_PARTIALS + 1)
    octave = np.log2(order)
    common = float(np.average(octave, weights=order**-2.0))
    effects = {name: float(o - common) for name, o in zip(PARTIAL_LEVELS, octave, strict=True)}
    return effects | {"tilt_db_per_octave": 1.0}
