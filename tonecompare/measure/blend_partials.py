"""The complex ratio of magnetic to piezo output at each partial of a note.

Both outputs hear the same modes, so at partial n the ratio of their spectra is a property of the
wiring and of the places, not of the pluck::

    R_n = sum_t M_t(f_n) conj P_t(f_n) / sum_t |P_t(f_n)|²

over frames t after the onset (least squares of M on P). Frames are six periods of the
fundamental under a Blackman-Harris window (Harris 1978: main lobe ±4 bins, side lobes -92 dB), so
that neighbouring partials do not leak. Only the first moments count: the two polarisations of a
string start together and drift apart, and what each output hears of them differs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal.windows import blackmanharris

from tonecompare.errors import InputError
from tonecompare.measure.blend_model import BlendPair, ComplexArray, PartialRatios
from tonecompare.measure.model import FloatArray, Noise

#: Periods of the fundamental in one frame.
FRAME_PERIODS = 6
#: Shortest frame, so that high notes keep enough bins between partials, seconds.
SHORTEST_FRAME_S = 0.025
#: How much of a pluck is used from its onset, seconds and frames: the longer of the two.
USED_S = 0.12
USED_FRAMES = 1.67
#: Partials looked at, and the highest frequency.
MOST_PARTIALS = 60
HIGHEST_HZ = 14000.0
#: A partial is used when both outputs stand this far above the floor between partials.
LEAST_SNR_DB = 12.0


@dataclass(frozen=True)
class _Frames:
    """Spectra of one pluck's frames: (frames, bins) on both outputs."""

    magnetic: ComplexArray
    piezo: ComplexArray
    bin_hz: float


def check_pair(pair: BlendPair) -> None:
    """Raise a clear error when a pair cannot be measured.

    Raises
    ------
    InputError
        When the outputs differ in length, hold NaN, or the pitch or rate make no sense.
    """
    where = pair.label or pair.note or "a pluck"
    if pair.magnetic.shape != pair.piezo.shape or pair.magnetic.ndim != 1:
        raise InputError(
            f"{where}: the magnetic output has the shape {pair.magnetic.shape}, the piezo output "
            f"{pair.piezo.shape}; both must be one channel of the same length."
        )
    if not (pair.rate_hz >= 8000.0):
        raise InputError(f"{where}: rate_hz={pair.rate_hz!r} is too low; did you give kHz?")
    if not (20.0 <= pair.f0_hz <= pair.rate_hz / 4):
        raise InputError(
            f"{where}: f0_hz={pair.f0_hz!r} is outside 20 Hz to a quarter of the rate."
        )
    if not 0 <= pair.onset_index < pair.magnetic.size:
        raise InputError(
            f"{where}: onset_index={pair.onset_index} is outside the {pair.magnetic.size} samples."
        )
    if not (np.isfinite(pair.magnetic).all() and np.isfinite(pair.piezo).all()):
        raise InputError(f"{where}: the samples hold NaN or infinity.")


def _frames(pair: BlendPair) -> _Frames | None:
    length = round(pair.rate_hz * max(FRAME_PERIODS / pair.f0_hz, SHORTEST_FRAME_S))
    start = pair.onset_index
    used = max(round(USED_S * pair.rate_hz), int(USED_FRAMES * length))
    stop = min(pair.magnetic.size, start + used)
    if stop - start < length:
        return None
    window = blackmanharris(length, sym=False)
    window = window / window.sum()
    n_fft = 1 << int(np.ceil(np.log2(2 * length)))
    hop = max(length // 3, 1)

    def spectra(samples: FloatArray) -> ComplexArray:
        cut = np.lib.stride_tricks.sliding_window_view(samples[start:stop], length)[::hop]
        result: ComplexArray = np.fft.rfft(cut * window, n_fft, axis=1)
        return result

    return _Frames(spectra(pair.magnetic), spectra(pair.piezo), pair.rate_hz / n_fft)


def _find_partials(power: FloatArray, bin_hz: float, f0_hz: float, highest_hz: float) -> FloatArray:
    """Frequency of partials 1, 2, … by tracking peaks; stiffness is followed upwards."""
    found: list[float] = []
    stretch = 0.0
    for n in range(1, MOST_PARTIALS + 1):
        expected = n * f0_hz * np.sqrt(1.0 + stretch * n * n)
        if expected > highest_hz:
            break
        reach = 0.25 * f0_hz if n > 1 else 0.1 * f0_hz
        low = max(1, int((expected - reach) / bin_hz))
        high = min(power.size - 1, int((expected + reach) / bin_hz) + 2)
        peak = low + int(np.argmax(power[low:high]))
        offset = 0.0
        if low < peak < high - 1 and power[peak - 1] > 0 and power[peak + 1] > 0:
            a, b, c = np.log(power[peak - 1 : peak + 2])
            curvature = a - 2 * b + c
            offset = 0.5 * (a - c) / curvature if curvature < 0 else 0.0
            found.append((peak + offset) * bin_hz)
        else:
            found.append(np.nan)
        if n >= 6:
            stretch = _stretch(np.array(found), f0_hz, stretch)
    return np.array(found)


def _stretch(found_hz: FloatArray, f0_hz: float, before: float) -> float:
    """Median of B from (f_n / n f0)² = 1 + B n² over the partials found so far."""
    n = np.arange(1, found_hz.size + 1)
    good = np.isfinite(found_hz) & (n >= 4)
    if good.sum() < 3:
        return before
    values = ((found_hz[good] / (n[good] * f0_hz)) ** 2 - 1.0) / n[good] ** 2
    return float(np.clip(np.median(values), 0.0, 1e-3))


def _near_mains(frequency_hz: FloatArray, noise: Noise | None, width_hz: float) -> FloatArray:
    """Power of the mains lines within ``width_hz`` of each frequency."""
    if noise is None or noise.line_hz.size == 0:
        return np.zeros(frequency_hz.size)
    near = np.abs(frequency_hz[:, None] - noise.line_hz[None, :]) < width_hz
    return np.asarray((near * noise.line_power[None, :]).sum(axis=1))


def _one_pluck(
    pair: BlendPair,
) -> tuple[FloatArray, ComplexArray, FloatArray, FloatArray, FloatArray] | None:
    """Frequency, cross power, piezo power and the two noise powers, partial by partial."""
    frames = _frames(pair)
    if frames is None:
        return None
    power_m = np.asarray((np.abs(frames.magnetic) ** 2).sum(axis=0))
    power_p = np.asarray((np.abs(frames.piezo) ** 2).sum(axis=0))
    both = power_m / max(power_m.max(), 1e-300) + power_p / max(power_p.max(), 1e-300)
    highest = min(HIGHEST_HZ, 0.45 * pair.rate_hz)
    frequency = _find_partials(both, frames.bin_hz, pair.f0_hz, highest)
    known = np.isfinite(frequency)
    index = np.clip(np.rint(np.where(known, frequency, 1.0) / frames.bin_hz), 1, power_m.size - 2)
    index = index.astype(np.int64)
    cross = (frames.magnetic[:, index] * frames.piezo[:, index].conj()).sum(axis=0)
    step = round(0.5 * pair.f0_hz / frames.bin_hz)

    def floor(power: FloatArray) -> FloatArray:
        low, high = np.maximum(index - step, 0), np.minimum(index + step, power.size - 1)
        return np.asarray(np.maximum(power[low], power[high]) + 1e-30)

    noise_m, noise_p = floor(power_m), floor(power_p)
    # A window of unit sum shows a line of mean square p as p/2 at its peak, in every frame.
    count, width = frames.magnetic.shape[0], 4.0 * pair.f0_hz / FRAME_PERIODS
    noise_m = noise_m + 0.5 * count * _near_mains(frequency, pair.noise_magnetic, width)
    noise_p = noise_p + 0.5 * count * _near_mains(frequency, pair.noise_piezo, width)
    snr = 10.0 ** (LEAST_SNR_DB / 10.0)
    used = known & (power_p[index] > snr * noise_p)
    # On a node of the string the magnetic output is silent, which is a value, not a gap: it is
    # left out only where nothing around it stands above the floor either.
    around = np.maximum.reduce([np.roll(power_m[index], k) for k in (-1, 0, 1)])
    used &= around > snr * noise_m
    if not used.any():
        return None
    gap = np.where(used, 1.0, np.nan)
    return frequency * gap, cross, power_p[index] * gap, noise_m / count, noise_p / count


def partial_ratios(pairs: Sequence[BlendPair]) -> PartialRatios | None:
    """Return magnetic over piezo at the partials of one note from all its plucks.

    Parameters
    ----------
    pairs
        Plucks of one note (same string).

    Returns
    -------
    PartialRatios or None
        None when no partial stands above the noise on both outputs.

    Raises
    ------
    InputError
        See :func:`check_pair`.
    """
    size = MOST_PARTIALS
    cross = np.zeros(size, dtype=np.complex128)
    power, noise_m, noise_p = np.zeros(size), np.zeros(size), np.zeros(size)
    weighted_hz = np.zeros(size)
    for pair in pairs:
        check_pair(pair)
        one = _one_pluck(pair)
        if one is None:
            continue
        frequency, c, p, m_noise, p_noise = one
        total = np.nansum(p)
        good = np.flatnonzero(np.isfinite(p))
        cross[good] += c[good] / total
        power[good] += p[good] / total
        weighted_hz[good] += frequency[good] * p[good] / total
        # Noise per frame relative to this pluck's strength; added in the mean of the plucks.
        noise_m[good] += m_noise[good] * p[good] / total**2
        noise_p[good] += p_noise[good] * p[good] / total**2
    used = np.flatnonzero(power > 0)
    if used.size == 0:
        return None
    ratio = cross[used] / power[used]
    sigma = np.sqrt(0.5 * (noise_m[used] + np.abs(ratio) ** 2 * noise_p[used])) / power[used]
    return PartialRatios(
        name=pairs[0].string_name,
        open_string=pairs[0].string is not None,
        f0_hz=float(np.median([pair.f0_hz for pair in pairs])),
        number=used.astype(np.float64) + 1.0,
        frequency_hz=weighted_hz[used] / power[used],
        ratio=ratio,
        sigma=sigma,
    )
