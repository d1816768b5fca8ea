"""Each output at the bench: string balance, hum, bandwidth, attack, knocks, clipping.

The imbalance of a piezo is read against the magnetic output of the same pluck, so that the
strength of the pluck drops out; a saddle that does not sit well shows as one string that is weak
on the piezo alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.signal import butter, sosfilt

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.band_powers import BAND_HZ, output_bands
from tonecompare.measure.outputs.flattened_peaks import flattened
from tonecompare.measure.outputs.level_match import (
    ATTACK_BANDS_HZ,
    level_difference_db,
    mean_known,
    transient_db,
)
from tonecompare.measure.outputs.results import BlendPair, OutputQuality, PiezoFinding, QuietPair
from tonecompare.measure.outputs.string_balance import FEWEST_STRINGS, off_line
from tonecompare.units import amplitude_to_db, mean_square_to_dbfs

#: The upper band edge: the highest third octave within this of the strongest.
BANDWIDTH_DB = 40.0
#: A string is out of balance from this deviation on, and this many times the usual spread.
IMBALANCE_DB = 3.0
_IMBALANCE_SPREADS = 3.0
_STRING = "string "
#: A knock: 5 ms blocks this far above the median block of the quiet, dB.
KNOCK_DB = 12.0
_BLOCK_S = 0.005
#: At a node the magnetic output should fall further than this; leakage fills the node.
CROSSTALK_DB = -21.0


def _samples(pair: BlendPair | QuietPair, output: str) -> FloatArray:
    return pair.magnetic if output == "magnetic" else pair.piezo


def _noise(pair: BlendPair, output: str) -> Noise | None:
    return pair.noise_magnetic if output == "magnetic" else pair.noise_piezo


def _by_string(
    pairs: Sequence[BlendPair], values: Sequence[float | None]
) -> dict[str, float | None]:
    grouped: dict[str, list[float | None]] = {}
    for pair, value in zip(pairs, values, strict=True):
        grouped.setdefault(pair.string_name, []).append(value)
    return {key: mean_known(each) for key, each in grouped.items()}


def knocks(samples: FloatArray, *, rate_hz: float) -> tuple[int, float]:
    """Count knocks and rubs in a quiet stretch; the peak of the strongest in dBFS, NaN without one.

    A knock is a run of 5 ms blocks, steps taken out below 60 Hz so that hum does not count, whose
    RMS stands 12 dB above the median block.
    """
    sos = butter(2, min(60.0, 0.2 * rate_hz), btype="highpass", fs=rate_hz, output="sos")
    clean = sosfilt(sos, samples)[int(0.02 * rate_hz) :]
    size = max(int(_BLOCK_S * rate_hz), 1)
    blocks = clean[: clean.size // size * size].reshape(-1, size)
    if blocks.shape[0] < 10:
        return 0, float("nan")
    rms = np.sqrt(np.mean(blocks**2, axis=1))
    loud = rms > 10.0 ** (KNOCK_DB / 20.0) * np.median(rms)
    starts = np.flatnonzero(loud & ~np.concatenate([[False], loud[:-1]]))
    if starts.size == 0:
        return 0, float("nan")
    return int(starts.size), float(amplitude_to_db(np.abs(blocks[loud]).max()))


def _bandwidth_hz(pairs: Sequence[BlendPair], output: str) -> float:
    """Upper edge of the highest third octave within 40 dB of the strongest."""
    powers = [output_bands(_samples(p, output), _noise(p, output), p) for p in pairs]
    known = [power for power in powers if power is not None]
    if not known:
        return float("nan")
    total = np.sum(np.nan_to_num(known), axis=0)
    high = np.flatnonzero(total > total.max() * 10.0 ** (-BANDWIDTH_DB / 10.0))
    return float(BAND_HZ[high[-1]] * 10.0**0.05) if total.max() > 0 else float("nan")


def output_quality(
    pairs: Sequence[BlendPair], output: str, *, quiets: Sequence[QuietPair] = ()
) -> OutputQuality:
    """Return what one output ("magnetic" or "piezo") is like over all plucks."""
    noises = [noise for pair in pairs if (noise := _noise(pair, output)) is not None]
    attacks = {band: _attack(pairs, output, band) for band in ("all", *ATTACK_BANDS_HZ)}
    clipped = flattened(
        (_samples(pair, output)[pair.onset_index :] for pair in pairs),
        [pair.note for pair in pairs],
        rate_hz=pairs[0].rate_hz,
    )
    found = [knocks(_samples(quiet, output), rate_hz=quiet.rate_hz) for quiet in quiets]
    seconds = sum(_samples(quiet, output).size / quiet.rate_hz for quiet in quiets)
    peaks = [peak for _, peak in found if np.isfinite(peak)]
    return OutputQuality(
        output=output,
        hum_dbfs=_hum_dbfs(noises),
        # Without the quiet, hiss alone would reach to the top.
        bandwidth_hz=_bandwidth_hz(pairs, output) if noises else float("nan"),
        transient_db={band: value for band, value in attacks.items() if value is not None},
        clipped_share=float(np.mean(clipped)),
        handling_per_s=sum(count for count, _ in found) / seconds if seconds else float("nan"),
        handling_peak_dbfs=max(peaks, default=float("nan")),
    )


def _attack(pairs: Sequence[BlendPair], output: str, band: str) -> float | None:
    return mean_known(
        [
            transient_db(
                _samples(pair, output), onset_index=pair.onset_index, rate_hz=pair.rate_hz,
                noise=_noise(pair, output), band=band,
            )
            for pair in pairs
        ]
    )  # fmt: skip


def _hum_dbfs(noises: Sequence[Noise]) -> float:
    powers = [float(noise.line_power[noise.line_hz <= 1000.0].sum()) for noise in noises]
    return float(mean_square_to_dbfs(np.mean(powers))) if any(powers) else float("nan")


def piezo_findings(
    pairs: Sequence[BlendPair],
    magnetic: OutputQuality,
    piezo: OutputQuality,
    *,
    gain_db: Mapping[str, float] | None = None,
    node_db: float | None = None,
) -> tuple[PiezoFinding, ...]:
    """Return what to look at on the bench, each with its number.

    ``gain_db`` is the piezo's over the magnetic's sensitivity by string from the fit of the delay;
    without it, levels of the plucks stand in. ``node_db`` is how far the magnetic output falls at
    partials with a node under the pickup, a hint of crosstalk.
    """
    levels = _by_string(pairs, [level_difference_db(pair) for pair in pairs])
    known = {key: value for key, value in levels.items() if value is not None}
    found = _imbalance(gain_db or known)
    if piezo.clipped_share > 0.0:
        found.append(PiezoFinding("clipping", "piezo", 100.0 * piezo.clipped_share, "%"))
    if np.isfinite(piezo.handling_per_s) and piezo.handling_per_s > 0.2:
        peak_dbfs = piezo.handling_peak_dbfs
        found.append(
            PiezoFinding("handling", "piezo", piezo.handling_per_s, "per second", data=(peak_dbfs,))
        )
    if node_db is not None and node_db > CROSSTALK_DB:
        found.append(PiezoFinding("crosstalk", "magnetic", node_db, "dB"))
    hum = _hum_difference_db(pairs, magnetic, piezo)
    if hum is not None and hum > 0.0:
        found.append(PiezoFinding("hum", "piezo", hum, "dB"))
    return tuple(found)


def _hum_difference_db(
    pairs: Sequence[BlendPair], magnetic: OutputQuality, piezo: OutputQuality
) -> float | None:
    level = mean_known([level_difference_db(pair) for pair in pairs])
    if level is None or not (np.isfinite(magnetic.hum_dbfs) and np.isfinite(piezo.hum_dbfs)):
        return None
    return float(piezo.hum_dbfs - magnetic.hum_dbfs - level)


def _imbalance(known: Mapping[str, float]) -> list[PiezoFinding]:
    """Strings whose piezo sensitivity, against the magnetic output, falls out of line."""
    found = []
    for key, (off, off_sd) in _off_others(known).items():
        if abs(off) < max(IMBALANCE_DB, _IMBALANCE_SPREADS * off_sd):
            continue
        found.append(PiezoFinding("string-balance", key, off, "dB", off_sd))
    return found


def _off_others(known: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Distance of each from the line through the other open strings, and its uncertainty, dB.

    Notes that are not open strings have no place on a line: with fewer than four open strings all
    are set against the middle of the others.
    """
    places = {key: int(key.removeprefix(_STRING)) for key in known if key.startswith(_STRING)}
    level = len(places) < FEWEST_STRINGS
    if level:
        places = {key: place for place, key in enumerate(known)}
    found = off_line({place: known[key] for key, place in places.items()}, level=level)
    return {key: found[place] for key, place in places.items() if place in found}
