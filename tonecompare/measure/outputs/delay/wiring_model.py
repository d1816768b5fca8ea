"""The string, pickup and saddle between two outputs as a model fitted to the partial ratios.

At partial n of a note::

    M_n / P_n = q g j sin(n pi d/L) S_n  H_m(f_n) / H_p(f_n)  exp(+j 2 pi f_n D)

with q the polarity, g the gain of the note, D the electronic delay of the piezo output, S_n the
aperture of the pickup (width of a coil's field, distance of two coils; no phase), H_m a resonant
low-pass (coil, cable, load) and H_p a first-order high-pass (piezo capacitance into its load) with
the second-order low-pass of its preamp. The filters carry priors, the ranges of real pickups and
piezos, so that what is not known of them is in the uncertainty of D.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.results import ComplexArray, PartialRatios

#: Delays allowed, seconds.
DELAY_RANGE_S = (-2.5e-3, 3.0e-3)
#: Pickup position d/L allowed: open strings, and fretted notes, whose sounding length is shorter.
OPEN_POSITION = (0.02, 0.45)
FRETTED_POSITION = (0.02, 0.98)
#: Step of the grids over the position.
POSITION_STEP = 0.005
#: Model error of phase (radian) and of amplitude (relative) beside the noise: of the phase while
#: candidates are told apart; then it is estimated from the misfit, within these bounds.
PHASE_FLOOR = 0.02
PHASE_FLOORS = (0.002, 0.3)
AMPLITUDE_FLOOR = 0.15
#: Priors: centre and width of the natural logarithm. The magnetic's low-pass corner (Hz) and its
#: Q, the piezo's high-pass and low-pass corners (Hz), then over d: the width of a coil's field and
#: the distance of two coils.
PRIOR_CENTRE = np.log(np.array([4500.0, 1.2, 60.0, 20000.0, 0.15, 0.1]))
PRIOR_WIDTH = np.array([0.6, 0.6, 1.2, 1.0, 0.8, 1.0])
LOWEST = np.log(np.array([800.0, 0.1, 1.0, 6000.0, 0.01, 0.001]))
HIGHEST = np.log(np.array([20000.0, 8.0, 1000.0, 200000.0, 2.0, 1.0]))
N_FILTERS = 6
_MAGNETIC_CORNER, _PIEZO_CORNER = 0, 3
#: Which low-passes there are: those of both outputs, or none. A piezo's preamp always has one, if
#: far up: without it all of its lag would pass for delay as soon as noise hides its bend.
FILTER_SETS: tuple[tuple[int, ...], ...] = ((), (_MAGNETIC_CORNER, _PIEZO_CORNER))
NO_CORNER = float(np.log(1e7))
#: Spread of d between the open strings (slanted pickups, saddle compensation), relative.
_POSITION_SPREAD = 0.08


@dataclass(frozen=True)
class Partials:
    """All partials of all notes, flat; ``group`` (k,) is the index of the note."""

    number: FloatArray
    frequency: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    #: Error of the phase by the drift of the polarisations, radian.
    turn: FloatArray
    group: NDArray[np.intp]
    open_string: NDArray[np.bool_]
    f0: FloatArray
    #: What each note's ratios were divided by.
    unit: FloatArray

    @property
    def n_groups(self) -> int:
        """Number of notes."""
        return int(self.f0.size)

    def without(self, group: int) -> Partials:
        """Return the same without one note."""
        keep = self.group != group
        others = np.arange(self.n_groups) != group
        new = self.group[keep] - (self.group[keep] > group)
        return Partials(
            self.number[keep], self.frequency[keep], self.ratio[keep], self.sigma[keep],
            self.turn[keep], new,
            self.open_string[others], self.f0[others], self.unit[others],
        )  # fmt: skip


def gather(notes: Sequence[PartialRatios]) -> Partials:
    """Put the notes together, each in units of its own median ratio (gains are free anyway)."""
    scale = [float(np.median(np.abs(note.ratio))) or 1.0 for note in notes]
    return Partials(
        np.concatenate([note.number for note in notes]),
        np.concatenate([note.frequency_hz for note in notes]),
        np.concatenate([note.ratio / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([note.sigma / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([note.turn_rad for note in notes]),
        np.concatenate([np.full(note.number.size, i) for i, note in enumerate(notes)]),
        np.array([note.open_string for note in notes]),
        np.array([note.f0_hz for note in notes]),
        np.array(scale),
    )


def filters(frequency: FloatArray, log_filters: FloatArray) -> ComplexArray:
    """H_m / H_p: resonant low-pass over first-order high-pass and Butterworth low-pass.

    Shape (..., k) for k frequencies and ``log_filters`` (..., 6).
    """
    corner, q, high_pass, bandwidth = np.moveaxis(np.exp(log_filters[..., :4, None]), -2, 0)
    x, y = frequency / corner, frequency / bandwidth
    magnetic = 1.0 / (1.0 - x**2 + 1j * x / q)
    piezo = 1j * frequency / (high_pass + 1j * frequency) / (1.0 - y**2 + 1j * np.sqrt(2.0) * y)
    return np.asarray(magnetic / piezo)


def shape_and_gain(
    parameters: FloatArray, data: Partials, polarity: int
) -> tuple[ComplexArray, FloatArray, FloatArray, FloatArray]:
    """Ratios turned onto the real axis, their shape without gain, its envelope, gain per note.

    The gain is that of least squares of the real parts, weighed by noise and model error. For
    ``parameters`` (..., p): delay in ms, logarithms of the filters, positions; results (..., k) by
    partial and (..., groups).
    """
    delay, log_filters = parameters[..., :1] * 1e-3, parameters[..., 1 : 1 + N_FILTERS]
    reach = data.number * parameters[..., 1 + N_FILTERS :][..., data.group]
    width, spacing = np.exp(log_filters[..., 4:5]), np.exp(log_filters[..., 5:6])
    aperture = np.sinc(0.5 * reach * width) * np.cos(0.5 * np.pi * reach * spacing)
    response = filters(data.frequency, log_filters)
    strength = np.abs(response)
    turned = np.exp(-2j * np.pi * data.frequency * delay)
    z = (-1j * polarity) * data.ratio * turned * response.conj() / strength
    comb = np.sin(np.pi * reach)
    size = strength * aperture
    shape = comb * size
    rough = np.maximum(np.abs(data.ratio), 0.2)
    weight = 1.0 / (data.sigma**2 + (AMPLITUDE_FLOOR * rough) ** 2)
    # Notes follow one another: sums over each.
    first = np.searchsorted(data.group, np.arange(data.n_groups))
    top = np.add.reduceat(weight * z.real * shape, first, axis=-1)
    bottom = np.add.reduceat(weight * shape**2, first, axis=-1)
    gain = np.maximum(top / np.maximum(bottom, 1e-30), 1e-3)
    return z, shape, np.abs(size) * np.maximum(np.abs(comb), 0.1), gain


def residuals(
    parameters: FloatArray, data: Partials, polarity: int, phase_floor: float
) -> FloatArray:
    """Phase and amplitude misfits of all partials, then the priors: (..., 2 k + priors)."""
    log_filters = parameters[..., 1 : 1 + N_FILTERS]
    position = parameters[..., 1 + N_FILTERS :]
    z, shape, envelope, of_note = shape_and_gain(parameters, data, polarity)
    gain = of_note[..., data.group]
    # Near a node the ratio is small and its error is not; 1 is the note's median ratio, and the
    # bound keeps a comb of nothing but nodes with a huge gain from fitting everything.
    height = np.abs(data.ratio)
    envelope = np.maximum(np.minimum(gain * envelope, 1.0), height)
    turn = (phase_floor * envelope) ** 2 + (data.turn * height) ** 2
    tangential = z.imag / np.sqrt(data.sigma**2 + turn)
    radial = (z.real - gain * shape) / np.sqrt(data.sigma**2 + (AMPLITUDE_FLOOR * envelope) ** 2)
    priors = (log_filters - PRIOR_CENTRE) / PRIOR_WIDTH
    opened = position[..., data.open_string]
    if opened.shape[-1] < 2:
        return np.concatenate([tangential, radial, priors], axis=-1)
    spread = (opened / opened.mean(axis=-1, keepdims=True) - 1.0) / _POSITION_SPREAD
    return np.concatenate([tangential, radial, priors, spread], axis=-1)
