"""A note's partial and an open string's, sounding within a few hertz of each other, kept apart.

Three damped sinusoids are fitted to the partial's band: two polarisations of the note, and one that
begins at the frequency at which the open string was measured by itself. It counts as that string
only if it stays there, if the three leave a small share of what two leave, and next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.measure.partials.damped_sinusoids import fit_damped
from tonecompare.measure.partials.narrow_bands import ThinnedBands, band_gain
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.signal import LEVEL_WINDOW_S, ComplexArray

#: The three leave at most this share of what two leave, and this share of the band's energy.
LEAST_GAIN = 0.3
LARGEST_MISFIT = 1e-3
#: The two strings have turned against each other this often while they rang.
LEAST_TURNS = 1.5
#: Two polarisations lie this share of their frequency apart where the other partials tell nothing.
USUAL_SPLIT = 4e-4
#: Weaker than this re the partial it is not a string (-40 dB).
WEAKEST_SHARE = 0.01
_SLOWEST_RATE = 0.05
_ITERATIONS = 30


@dataclass(frozen=True)
class KeptApart:
    """The note's own two components (2,) at the onset, and the open string's share of amplitude."""

    amplitude: ComplexArray
    rate: ComplexArray
    power: float
    string_share: float


def keep_apart(
    partials: PartialSet, index: int, other_hz: float, *, met_hz: float
) -> KeptApart | None:
    """Split a partial's band into the note's own part and an open string's; None if it cannot be.

    Parameters
    ----------
    partials
        The pluck's partials.
    index
        Which of them, from 0.
    other_hz, met_hz
        Where the open string's partial lies, and within what it must be found.
    """
    bands = partials.bands
    if bands is None or partials.clean.shape[1] < 12:
        return None
    span_s = partials.clean.shape[1] / bands.rate_hz
    if abs(other_hz - float(partials.frequency_hz[index])) < LEAST_TURNS / span_s:
        return None
    time_s = np.arange(partials.clean.shape[1]) / bands.rate_hz
    time_s += bands.time_s[bands.settled[0]]
    few = ThinnedBands.of(partials.clean[index : index + 1], time_s, bands.rate_hz)
    first = complex(partials.components_rate[index, 0])
    centre_hz = float(bands.centre_hz[index])
    third = first.real + 2j * np.pi * (other_hz - centre_hz)
    split = 2j * np.pi * _split(partials, index) * centre_hz
    seconds = [first + split, first - split]
    if np.isfinite(partials.components_rate[index, 1]):
        seconds.append(complex(partials.components_rate[index, 1]))
    start = np.array([[first, 0.7 * second.real + 1j * second.imag, third] for second in seconds])
    none = np.zeros(len(start))
    fit = fit_damped(
        np.repeat(few.z, len(start), axis=0), few.time_s, start, noise_density=none,
        noise_power=none, iterations=_ITERATIONS,
    )  # fmt: skip
    two = fit_damped(
        np.repeat(few.z, len(start), axis=0), few.time_s, start[:, :2], noise_density=none,
        noise_power=none, iterations=_ITERATIONS,
    )  # fmt: skip
    best = int(np.argmin(fit.misfit))
    floor = _noise_misfit(partials, index, few)
    if fit.misfit[best] - floor > LARGEST_MISFIT:
        return None
    if fit.misfit[best] > LEAST_GAIN * two.misfit.min():
        return None
    rate = fit.rate[best]
    amplitude = fit.amplitude[best] / few.gain(rate) / band_gain(rate, bands.sigma_hz)
    hz = centre_hz + rate.imag / (2.0 * np.pi)
    string = int(np.argmin(np.abs(hz - other_hz)))
    own = np.delete(np.arange(3), string)
    own = own[np.argsort(-np.abs(amplitude[own]))]
    share = float(np.abs(amplitude[string]) / np.abs(amplitude[own[0]]))
    if abs(hz[string] - other_hz) > met_hz or not WEAKEST_SHARE < share < 1.0:
        return None
    if np.any(rate.real > -_SLOWEST_RATE):
        return None
    return KeptApart(amplitude[own], rate[own], _power(amplitude[own], rate[own]), share)


def _split(partials: PartialSet, index: int) -> float:
    """How far two polarisations lie apart, as a share of their frequency: as at other partials."""
    apart = np.abs(np.diff(partials.components_rate.imag, axis=1)[:, 0]) / (2.0 * np.pi)
    share = apart / partials.frequency_hz
    known = np.isfinite(share) & (partials.n_components == 2)
    known[index] = False
    return float(np.median(share[known])) if known.any() else USUAL_SPLIT


def _noise_misfit(partials: PartialSet, index: int, few: ThinnedBands) -> float:
    """Share of the band's energy that its noise makes."""
    bands = partials.bands
    assert bands is not None
    noise = float(partials.noise_power[index]) * few.noise_share(bands.sigma_hz)
    return noise / float(np.mean(np.abs(few.z) ** 2))


def _power(amplitude: ComplexArray, rate: ComplexArray) -> float:
    """Mean square over the level window."""
    grid = np.linspace(*LEVEL_WINDOW_S, 129)
    model = amplitude @ np.exp(rate[:, None] * grid)
    return float(np.mean(np.abs(model) ** 2) / 2.0)
