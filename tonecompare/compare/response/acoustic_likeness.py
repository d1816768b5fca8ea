"""How acoustic does it sound: two outputs and their blends against a reference recording.

The reference is a recording of the same notes on an acoustic guitar through a microphone. Levels
per third octave are compared note by note, each note's level taken out::

    d(band) = mean over notes of [L_blend - L_reference - their mean over the bands]
    distance = RMS of d over the bands 80 Hz–8 kHz / threshold of level

in hearing thresholds of level, for every ratio and both polarities. What the nearest blend lacks
goes to the few-band equaliser (``equaliser``). Attack and decay of each
output are set beside those of the reference. Other pick places, rooms and microphones are in the
distance too: it ranks blends of one guitar and says nothing about which guitar is better.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from tonecompare.arrays import FloatArray
from tonecompare.compare.model import AcousticLikeness, Beside, Response
from tonecompare.compare.response.equaliser import fit_equaliser
from tonecompare.compare.thresholds import HearingThreshold, threshold_named
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.mixing import RATIOS
from tonecompare.measure.outputs.results import BandCross, BlendResult
from tonecompare.session.model import REFERENCE_VOICES

BAND_HZ = (80.0, 8000.0)
_LEAST_BANDS = 8
#: Ratios this near the smallest distance, in thresholds, are as good.
AS_GOOD_THRESHOLDS = 0.1


def likeness_of_session(
    measurements: Measurements, *, overrides: Mapping[str, float] | None = None
) -> tuple[AcousticLikeness, ...]:
    """Compare every two-channel voice with every reference voice ("acoustic", "reference").

    ``overrides`` are the ``hearing_thresholds`` of session.toml.
    """
    found = []
    for (stage, voice), blend in measurements.blends.items():
        for (other_stage, other, output), bands in measurements.bands.items():
            if other not in REFERENCE_VOICES:
                continue
            theirs = (other_stage, other, output)
            beside = _beside(measurements.plucks, (stage, voice), theirs, overrides)
            name = other if other_stage == stage else f"{other_stage}, {other}"
            one = likeness(
                blend, bands, stage=stage, voice=voice, reference_name=name, beside=beside,
                overrides=overrides,
            )  # fmt: skip
            if one is not None:
                found.append(one)
    return tuple(found)


def likeness(
    blend: BlendResult,
    reference: Mapping[str, FloatArray],
    *,
    stage: str = "",
    voice: str = "",
    reference_name: str = "",
    beside: Sequence[Beside] = (),
    overrides: Mapping[str, float] | None = None,
) -> AcousticLikeness | None:
    """Return how near every blend of two outputs comes to a reference.

    Parameters
    ----------
    blend
        The two outputs, measured.
    reference
        Mean square per third octave by note, shape (B,).
    stage, voice, reference_name
        Names for the report.
    beside
        Attack and decay beside the reference's.
    overrides
        ``hearing_thresholds`` of session.toml; distances are counted in that of the level.

    Returns
    -------
    AcousticLikeness or None
        None when they share no note with enough bands above the quiet.
    """
    shared = [
        (blend.by_note[note], power) for note, power in reference.items() if note in blend.by_note
    ]
    usable = [
        (bands, power) for bands, power in shared if _known(bands, power).sum() >= _LEAST_BANDS
    ]
    if not usable:
        return None
    # (2, ratios, notes, bands)
    each = np.array([_off_db(bands, power) for bands, power in usable])
    off = each.transpose(1, 2, 0, 3)
    mean = _mean_known(off, axis=2)
    threshold = threshold_named("level", overrides=overrides).above
    distance = np.sqrt(_mean_known(mean**2, axis=2)) / threshold
    side, index = np.unravel_index(int(np.argmin(distance)), distance.shape)
    good = np.flatnonzero(distance[side] <= distance.min() + AS_GOOD_THRESHOLDS)
    band_hz = blend.bands.band_hz
    nearest = off[side, index]
    response = _response(band_hz, -nearest, voice=voice)
    equaliser = fit_equaliser(response) if len(usable) > 1 else None
    return AcousticLikeness(
        stage=stage,
        voice=voice,
        reference=reference_name,
        n_notes=len(usable),
        ratio=RATIOS,
        distance=distance,
        nearest_ratio=float(RATIOS[index]),
        nearest_polarity=1 if side == 0 else -1,
        as_good=(float(RATIOS[good[0]]), float(RATIOS[good[-1]])),
        band_hz=band_hz,
        difference_db=-mean[side, index],
        equaliser=equaliser,
        beside=tuple(beside),
        threshold_db=threshold,
    )


def _known(bands: BandCross, power: FloatArray) -> NDArray[np.bool_]:
    inside = (bands.band_hz >= BAND_HZ[0]) & (bands.band_hz <= BAND_HZ[1])
    known = inside & np.isfinite(bands.magnetic) & np.isfinite(bands.piezo)
    return np.asarray(known & (np.nan_to_num(power) > 0.0))


def _off_db(bands: BandCross, power: FloatArray) -> FloatArray:
    """Blend minus reference of one note, levels taken out: (2, ratios, bands), NaN = unknown."""
    known = _known(bands, power)
    r = RATIOS[None, :, None]
    sign = np.array([1.0, -1.0])[:, None, None]
    parts = (1 - r) ** 2 * bands.magnetic + r**2 * bands.piezo
    total = np.maximum(parts + 2 * sign * r * (1 - r) * bands.cross, 1e-3 * parts)
    with np.errstate(divide="ignore", invalid="ignore"):
        off = 10.0 * np.log10(total / power)
    off = np.where(known, off, np.nan)
    return np.asarray(off - np.nanmean(off, axis=2, keepdims=True))


def _mean_known(values: FloatArray, *, axis: int) -> FloatArray:
    known = np.isfinite(values)
    count = known.sum(axis=axis)
    total = np.where(known, values, 0.0).sum(axis=axis)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _response(band_hz: FloatArray, off_db: FloatArray, *, voice: str) -> Response:
    """Return what the nearest blend (notes, bands) lacks, with its 95 % interval over notes."""
    count = np.isfinite(off_db).sum(axis=0)
    mean = _mean_known(off_db, axis=0)
    square = _mean_known((off_db - mean) ** 2, axis=0)
    enough = count >= 2
    degrees = np.maximum(count - 1, 1)
    spread = np.sqrt(square * count / degrees / np.maximum(count, 1))
    half = np.where(enough, stats.t.ppf(0.975, degrees) * spread, np.nan)
    mean = np.where(enough, mean, np.nan)
    return Response(
        comparison="likeness", voice=voice, output="blend", frequency_hz=band_hz,
        difference_db=mean, ci_low_db=mean - half, ci_high_db=mean + half, n_notes=len(off_db),
    )  # fmt: skip


#: Quantities set beside the reference's, their unit and threshold.
_BESIDE = (("attack_ms", "ms", "attack"), ("decay_s", "s", "decay"))


def _beside(
    plucks: pd.DataFrame,
    ours: tuple[str, str],
    theirs: tuple[str, str, str],
    overrides: Mapping[str, float] | None,
) -> tuple[Beside, ...]:
    """Attack and decay of both outputs and of the reference over the notes they share."""
    if not len(plucks):
        return ()
    rows = []
    of_reference = plucks[
        (plucks["stage"] == theirs[0])
        & (plucks["voice"] == theirs[1])
        & (plucks["output"] == theirs[2])
    ]
    mine = plucks[(plucks["stage"] == ours[0]) & (plucks["voice"] == ours[1])]
    for quantity, unit, name in _BESIDE:
        threshold = threshold_named(name, column=quantity, overrides=overrides)
        reference = of_reference.groupby("note")[quantity].mean().dropna()
        for output in ("magnetic", "piezo"):
            values = mine[mine["output"] == output].groupby("note")[quantity].mean().dropna()
            notes = values.index.intersection(reference.index)
            if len(notes) == 0:
                continue
            # Ratios are compared as ratios: geometric means.
            value = float(np.exp(np.log(values[notes]).mean()))
            other = float(np.exp(np.log(reference[notes]).mean()))
            rows.append(
                Beside(quantity, output, unit, value, other,
                       _in_thresholds(threshold, value / other), len(notes))
            )  # fmt: skip
    return tuple(rows)


def _in_thresholds(threshold: HearingThreshold, ratio: float) -> float:
    percent = 100.0 * (ratio - 1.0)
    return percent / threshold.above if percent >= 0.0 else percent / threshold.below
