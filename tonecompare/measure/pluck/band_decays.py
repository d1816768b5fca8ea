"""How long a chord rings in each octave band: backward-integrated energy of the band alone.

The strings of a chord have no partials of their own that could be told apart, so what dies away in
the bass and what in the treble is read from the octave bands (:mod:`…octave_bands`).
"""

from __future__ import annotations

import numpy as np
import scipy.fft

from tonecompare.measure.decay.decay_time import STEP_S, curve_time
from tonecompare.measure.decay.energy_curve import MAIN_RANGE_DB, decay_curve
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.pluck.octave_bands import band_response
from tonecompare.measure.signal import PluckSignal
from tonecompare.quantities.octave_bands import BAND_DECAYS, BANDS, OctaveBand

#: Highest frequency that a file shows, of its rate.
_REACH = 0.49


def measure_band_decays(signal: PluckSignal) -> dict[str, Measured]:
    """Return the decay time of each octave band of a pluck.

    ``L(t) = 10 lg( int_t^inf e dt / int_0^inf e dt )`` (Schroeder 1965), e the energy that the
    band's filter lets through (zero phase) less the quiet's in that band (Chu 1978); 60 dB over the
    slope between -5 and -25 dB, or -15 dB where no more rang.

    Returns
    -------
    dict
        ``decay_0063_s`` … ``decay_8000_s``.
    """
    return {
        column: _band_decay(signal, band) for column, band in zip(BAND_DECAYS, BANDS, strict=True)
    }


def _band_decay(signal: PluckSignal, band: OctaveBand) -> Measured:
    if band.edges_hz[1] > _REACH * signal.rate_hz:
        return unmeasured("s", "the sampling rate is too low for this band")
    if signal.lowest_hz is not None and signal.lowest_hz > band.edges_hz[1]:
        return unmeasured("s", "no partial lies in this band")
    step = max(1, round(STEP_S * signal.rate_hz))
    count = signal.samples.size // step
    if count < 8:
        return unmeasured("s", "does not stand above the quiet")
    hz = np.arange(signal.transform.size, dtype=np.float64) * (signal.rate_hz / signal.fft_size)
    inside = np.flatnonzero((hz > band.edges_hz[0] / 1.3) & (hz < band.edges_hz[1] * 1.3))
    kept = np.zeros_like(signal.transform)
    kept[inside] = signal.transform[inside] * np.sqrt(band_response(hz[inside], band))
    filtered = scipy.fft.irfft(kept, signal.fft_size)[: count * step].reshape(count, step)
    noise, noise_sd = _quiet(signal, band, step / signal.rate_hz)
    curve = decay_curve(
        np.mean(np.square(filtered), axis=1),
        step_s=step / signal.rate_hz,
        noise=noise,
        noise_sd=noise_sd,
        start_s=signal.lag_s,
    )
    return curve_time(curve, MAIN_RANGE_DB, signal)


def _quiet(signal: PluckSignal, band: OctaveBand, step_s: float) -> tuple[float, float]:
    """Mean square of the quiet in a band, and its spread from step to step."""
    noise = signal.noise
    if noise is None:
        return 0.0, 0.0
    density = noise.density * band_response(noise.frequency_hz, band)
    lines = float(np.sum(noise.line_power * band_response(noise.line_hz, band)))
    bin_hz = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    spread = float(np.sqrt(np.sum(density**2) * bin_hz / step_s)) + 0.5 * lines
    return float(density.sum()) * bin_hz + lines, spread
