"""Mains lines, hiss, bursts and whistles of stated level, continuous over a recording."""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.strings.exponentials import sum_exponentials
from tonecompare.strings.model import Magnetic, NoiseSpec, Parallel
from tonecompare.strings.pickups.sensors import pickups_of
from tonecompare.units import amplitude_to_db, db_to_amplitude, dbfs_to_mean_square

#: The band a hiss level refers to.
HISS_BAND_HZ = (20.0, 20e3)
#: Density that goes with 1/f.
_PINK_DB_PER_OCTAVE = -3.0103
#: A drift is a sum of so many waves of such frequencies: minutes to seconds.
_DRIFTS, _DRIFT_HZ, _KNOT_S = 8, (0.02, 0.5), 0.01


def coil_line_dbfs(
    magnetic: Magnetic | Parallel, field_dbfs: tuple[float, ...], *, mains_hz: float
) -> tuple[float, ...]:
    """Mains lines of a pickup in a field that gives one coil of ``hum`` = 1 these levels.

    Coils add with their signed ``hum``; a humbucker keeps the mismatch 20 lg |a − b| (check-values
    section 6). The circuit acts on every line.
    """
    hz = mains_hz * np.arange(1, len(field_dbfs) + 1)
    gain = sum(
        sum(coil.hum for coil in pickup.coils) * circuit.response(2j * np.pi * hz)
        for pickup, circuit in pickups_of(magnetic)
    )
    return tuple(float(x) for x in np.asarray(field_dbfs) + amplitude_to_db(np.abs(gain)))


def render_noise(
    noise: NoiseSpec, *, n: int, rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    """Noise of one channel, shape (n,).

    Line k is √2·RMS·cos with a random phase; hiss is Gaussian with the given RMS in 20 Hz–20 kHz
    (or up to half the rate, if that is lower) and the same density beyond; 1/f noise likewise,
    level below 20 Hz.
    """
    out = _lines(noise, n=n, rate_hz=rate_hz, rng=rng)
    if np.isfinite(noise.hiss_dbfs):
        tilt = noise.hiss_tilt_db_per_octave
        out += _hiss(noise.hiss_dbfs, tilt, n=n, rate_hz=rate_hz, rng=rng)
    if np.isfinite(noise.pink_dbfs):
        out += _hiss(noise.pink_dbfs, _PINK_DB_PER_OCTAVE, n=n, rate_hz=rate_hz, rng=rng)
    for burst in noise.bursts:
        first, last = (
            int(np.clip(round(t * rate_hz), 0, n))
            for t in (burst.start_s, burst.start_s + burst.length_s)
        )
        rms = np.sqrt(dbfs_to_mean_square(burst.dbfs))
        out[first:last] += rms * rng.standard_normal(last - first)
    return out


def _lines(noise: NoiseSpec, *, n: int, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    hz = [noise.mains_hz * (k + 1) for k in range(len(noise.line_dbfs))]
    levels = list(noise.line_dbfs)
    hz += [tone[0] for tone in noise.whistles]
    levels += [tone[1] for tone in noise.whistles]
    # A full-scale sine (peak 1) is 0 dBFS, so the peak of a line is 10^(dBFS/20).
    peak = np.asarray(db_to_amplitude(levels), dtype=np.float64)
    phase = rng.uniform(0, 2 * np.pi, size=peak.size)
    use = (peak > 0) & (np.asarray(hz) < rate_hz / 2)
    if noise.line_wander_db or noise.mains_wander_hz:
        return _wandering(noise, np.asarray(hz)[use], peak[use], phase[use], n, rate_hz, rng)
    rates = 2j * np.pi * np.asarray(hz, dtype=np.complex128)[use]
    amplitudes = (peak * np.exp(1j * phase))[use]
    return sum_exponentials(rates, amplitudes, first_s=0.0, rate_hz=rate_hz, n=n)


def _wandering(
    noise: NoiseSpec,
    hz: FloatArray,
    peak: FloatArray,
    phase: FloatArray,
    n: int,
    rate_hz: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Lines whose levels drift, each by itself, and whose frequencies drift with the mains.

    A line's phase is 2π times the integral of its frequency; whistles wander with the mains too.
    Drifts are worked out at knots and joined by straight lines, off by (2π·0.5 Hz·10 ms)²/8.
    """
    t = np.arange(n) / rate_hz
    knots = np.arange(0.0, n / rate_hz + 2 * _KNOT_S, _KNOT_S)
    late = noise.mains_wander_hz / noise.mains_hz * _drift(knots, rng, integral=True)
    clock_s = np.interp(t, knots, knots + late)
    out = np.zeros(n)
    for line_hz, line_peak, line_phase in zip(hz, peak, phase, strict=True):
        level = line_peak * db_to_amplitude(noise.line_wander_db * _drift(knots, rng))
        wave = np.cos(2 * np.pi * line_hz * clock_s + line_phase)
        wave *= np.interp(t, knots, level)
        out += wave
    return out


def _drift(t: FloatArray, rng: np.random.Generator, *, integral: bool = False) -> FloatArray:
    """Return a slow random course of standard deviation 1 over time, or its integral from 0."""
    hz = rng.uniform(*_DRIFT_HZ, size=_DRIFTS)
    phase = rng.uniform(0, 2 * np.pi, size=_DRIFTS)
    turns = 2 * np.pi * np.multiply.outer(hz, t) + phase[:, None]
    if integral:
        parts = (np.sin(turns) - np.sin(phase)[:, None]) / (2 * np.pi * hz[:, None])
    else:
        parts = np.cos(turns)
    return np.asarray(np.sqrt(2 / _DRIFTS) * np.sum(parts, axis=0))


def _hiss(
    level_dbfs: float, tilt: float, *, n: int, rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    low, high = HISS_BAND_HZ[0], min(HISS_BAND_HZ[1], rate_hz / 2)
    white = rng.standard_normal(n)
    mean_square = dbfs_to_mean_square(level_dbfs)
    if tilt == 0.0:
        return np.asarray(white * np.sqrt(mean_square * (rate_hz / 2) / (high - low)))
    spectrum = np.fft.rfft(white)
    hz = np.clip(np.fft.rfftfreq(n, 1 / rate_hz), low, None)
    spectrum *= (hz / 1000) ** (tilt / 6.0206)
    # Power density follows f^q; its mean over 0 … rate/2 in the band is an elementary integral.
    q = tilt / 3.0103
    grid = np.linspace(low, high, 200001)
    band = np.trapezoid((grid / 1000) ** q, grid)
    return np.asarray(np.fft.irfft(spectrum, n) * np.sqrt(mean_square * (rate_hz / 2) / band))


def hiss_with_quantisation_dbfs(noise: NoiseSpec, *, rate_hz: float, bits: int | None) -> float:
    """Hiss in 20 Hz–20 kHz with the error of rounding to ``bits`` (LSB²/12, white) added.

    Holds while the hiss alone moves the samples by half a step or more (RMS): from −93 dBFS at 16
    bits. Below that, rounding without dither is no longer an independent noise.
    """
    mean_square = dbfs_to_mean_square(noise.hiss_dbfs) + dbfs_to_mean_square(noise.pink_dbfs)
    if bits is not None:
        low, high = HISS_BAND_HZ[0], min(HISS_BAND_HZ[1], rate_hz / 2)
        mean_square += 2.0 ** (-2 * (bits - 1)) / 12 * (high - low) / (rate_hz / 2)
    return float(10 * np.log10(2 * mean_square)) if mean_square > 0 else float("-inf")
