"""How the sound of a pluck divides among the octave bands of IEC 61260-1, 63 Hz to 8 kHz.

Each band is what a band filter lets through over the window of ``level_dbfs``. The filters are
worked out on the transform of the first 0.9 s: only a band's own bins are carried back, as the
envelope of the band at 1.5 times its width, which holds all of its power over time. Their
edges are soft (a quarter octave, half the power at the band's edge), so that the eight add up to
the whole and a partial beside an edge does not jump from band to band with the tuning.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import Noise
from tonecompare.measure.pluck.level_and_attack import BEAT_HZ, EDGE_S, onset_sd_s
from tonecompare.measure.quiet.quiet_frames import BIN_CORRELATION
from tonecompare.measure.signal import LEVEL_WINDOW_S, PluckSignal, Segment, SingleArray
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS, OctaveBand
from tonecompare.units import mean_square_to_dbfs

#: Seconds from the onset that are transformed: the window and what the lowest filter rings on.
TRANSFORMED_S = 0.9
#: Its last part sinks to nothing, so that no jump from its end back to its start rings in a band.
TAPERED_S = 0.25
#: Half of the width of a filter's edge, as a power of ten: an eighth of an octave.
HALF_EDGE = 0.3 / 8.0
#: Samples of a band's envelope per bin that it holds.
_FINER = 1.5
#: Highest frequency that a file shows, of its rate.
_REACH = 0.49
#: Mean of the fourth power of a sine over the squared mean of its square.
_FOURTH_OF_SINE = 1.5
_DB = 10.0 / math.log(10.0)


@dataclass(frozen=True)
class _BandPower:
    """Mean square of one band over the window, the quiet's taken off, and its standard error."""

    net: float
    sd: float


def band_response(
    frequency_hz: FloatArray, band: OctaveBand, *, lowest: bool = False
) -> FloatArray:
    """Power that a band's filter lets through.

    ``cos²`` over a quarter octave about each edge, on a logarithmic scale: 1 within, 1/2 at
    ``mid · 10^(±3/20)``, 0 beyond; neighbouring bands add up to 1. Within the class 1 limits of
    IEC 61260-1:2014, Table 1.

    Parameters
    ----------
    frequency_hz
        Shape (F,), Hz.
    band
        The band.
    lowest
        True for the band of a note's fundamental: its lower edge then lies a quarter octave lower,
        since none lies below it that could take its skirt.

    Returns
    -------
    ndarray
        Shape (F,), 0 to 1.
    """
    with np.errstate(divide="ignore"):
        distance = np.log10(frequency_hz / band.mid_hz)
    if lowest:
        distance = np.where(distance < 0.0, np.minimum(distance + 2.0 * HALF_EDGE, 0.0), distance)
    distance = np.abs(distance)
    beyond = np.clip((distance - 0.15) / (2.0 * HALF_EDGE) + 0.5, 0.0, 1.0)
    return np.asarray(np.cos(0.5 * np.pi * beyond) ** 2)


def measure_bands(signal: PluckSignal) -> dict[str, Measured]:
    """Levels of the octave bands over 0.05–0.55 s, quiet subtracted, alone and against all.

    A band's level is the mean square of what its filter lets through, less the quiet's, re a
    full-scale sine; its shape is that over the sum of all bands measured. The standard error has
    the parts of ``level_dbfs``, each within the band: noise of density S in a band of power P
    makes ``2 P S / T + int S² df / T``; mains lines beat with the partials beside them.

    Returns
    -------
    dict
        ``band_0063_db`` … ``band_8000_db`` (dBFS), ``shape_0063_db`` … ``shape_8000_db`` (dB).
    """
    return measure_bands_of((signal,))[0]


def measure_bands_of(signals: Sequence[PluckSignal]) -> list[dict[str, Measured]]:
    """Measure the bands of some plucks of one rate: the same as one by one, but faster."""
    limits = [signal.window(LEVEL_WINDOW_S) for signal in signals]
    rang = [at for at, window in enumerate(limits) if window is not None]
    powers: list[list[_BandPower | str]] = [[] for _ in signals]
    for band in BANDS:
        why_not = {at: _why_not(signals[at], band) for at in rang}
        envelopes = _envelopes({at: signals[at] for at in rang if not why_not[at]}, band)
        for at in rang:
            window = limits[at]
            assert window is not None
            powers[at].append(why_not[at] or _power(signals[at], band, envelopes[at], window))
    return [
        _quantities(signal, window, of_bands)
        for signal, window, of_bands in zip(signals, limits, powers, strict=True)
    ]


def _quantities(
    signal: PluckSignal, limits: tuple[int, int] | None, powers: list[_BandPower | str]
) -> dict[str, Measured]:
    if limits is None:
        reason = f"rang for only {signal.ring_s:.2f} s"
        return {name: unmeasured(_unit(name), reason) for name in (*BAND_LEVELS, *BAND_SHAPES)}
    window_s = (
        limits[0] / signal.rate_hz + signal.lag_s,
        limits[1] / signal.rate_hz + signal.lag_s,
    )
    return _levels(powers, window_s) | _shapes(powers, window_s)


@lru_cache(maxsize=8)
def _transformed(rate_hz: float) -> int:
    """How many samples are transformed."""
    return int(scipy.fft.next_fast_len(round(TRANSFORMED_S * rate_hz), real=True))


def _beginning(signal: PluckSignal) -> tuple[SingleArray, int]:
    """Return what is transformed, sinking to nothing at its end."""
    size = _transformed(signal.rate_hz)
    samples = np.zeros((1, size), dtype=np.float32)
    own = signal.samples[:size]
    samples[0, : own.size] = own
    tail = _tail(round(TAPERED_S * signal.rate_hz))
    samples[0, size - tail.size :] *= tail
    return samples, size


BEGINNING = Segment("beginning", _beginning)


def _unit(column: str) -> str:
    return "dBFS" if column in BAND_LEVELS else "dB"


def _why_not(signal: PluckSignal, band: OctaveBand) -> str:
    if band.mid_hz * 10.0 ** (0.15 + HALF_EDGE) > _REACH * signal.rate_hz:
        return "the sampling rate is too low for this band"
    if signal.f0_hz is not None and signal.f0_hz > band.edges_hz[1]:
        return "no partial lies in this band"
    return ""


def _is_lowest(signal: PluckSignal, band: OctaveBand) -> bool:
    """Whether the band holds the note's fundamental."""
    return signal.f0_hz is not None and signal.f0_hz > band.edges_hz[0]


def _envelopes(signals: Mapping[int, PluckSignal], band: OctaveBand) -> dict[int, SingleArray]:
    """Mean square of the band of each pluck over time, by the plucks' places."""
    found: dict[int, SingleArray] = {}
    for lowest in (False, True):
        places = [at for at, signal in signals.items() if _is_lowest(signal, band) == lowest]
        if not places:
            continue
        rate_hz = signals[places[0]].rate_hz
        size = _transformed(rate_hz)
        first_bin, root = _filter(band, rate_hz, size, lowest=lowest)
        # The analytic band signal, its frequency counted from the first bin.
        n_out = _finer(root.size)
        padded = np.zeros((len(places), n_out), dtype=np.complex64)
        for row, at in zip(padded, places, strict=True):
            spectra = BEGINNING.spectrum(signals[at])
            assert spectra is not None
            np.multiply(spectra[0, first_bin : first_bin + root.size], root, out=row[: root.size])
        envelope = scipy.fft.ifft(padded, axis=1, overwrite_x=True)
        # Twice the one-sided bins; mean square of a real signal is half of its envelope's square.
        power = envelope.real**2 + envelope.imag**2
        power *= np.float32(2.0 * (n_out / size) ** 2)
        found.update(zip(places, power, strict=True))
    return found


def _power(
    signal: PluckSignal, band: OctaveBand, power: SingleArray, limits: tuple[int, int]
) -> _BandPower | str:
    """Return the band's power over the window, or why it has none."""
    rate_hz, lowest = signal.rate_hz, _is_lowest(signal, band)
    length_s = (limits[1] - limits[0]) / rate_hz
    step = _transformed(rate_hz) / power.size
    # A sample stands for the half step on either side of it.
    start, end = ((limit - 0.5) / step for limit in limits)
    quiet = _Quiet.of(signal.noise, band, lowest=lowest)
    net = _mean_between(power, start, end) - quiet.power
    if net <= quiet.power or net <= 0.0:
        return "does not stand above the quiet"
    edge = EDGE_S * rate_hz / step
    ends = _mean_between(power, start, start + edge), _mean_between(power, end - edge, end)
    shift = (onset_sd_s(signal) ** 2 + 1.0 / (12.0 * rate_hz**2)) / length_s**2
    moved = _FOURTH_OF_SINE * sum(part**2 for part in ends) * shift
    random = (2.0 * net * quiet.density + quiet.square) / length_s
    partials = 1.0
    if signal.f0_hz is not None:
        partials = max(1.0, (band.edges_hz[1] - band.edges_hz[0]) / signal.f0_hz)
    kept = _kept_of_beats(signal.f0_hz, signal.noise, length_s)
    beat = 2.0 * net / partials * float(quiet.line_power @ kept)
    return _BandPower(net, math.sqrt(random + beat + moved + quiet.sd**2))


@lru_cache(maxsize=8)
def _kept_of_beats(f0_hz: float | None, noise: Noise | None, length_s: float) -> FloatArray:
    """Share of a band's variance that each mains line keeps by its beats with the partials, (K,).

    A line of power L at Δf from a partial of power P adds ``2 sqrt(P L) cos(phase)`` times
    ``sinc(Δf T)``, of which the envelope ``1 / (pi Δf T)`` is taken, 1 at most; a band's partials
    share its power alike.
    """
    line_hz = np.zeros(0) if noise is None else noise.line_hz
    offset_hz = np.full(line_hz.size, BEAT_HZ)
    if f0_hz is not None:
        order = np.maximum(np.round(line_hz / f0_hz), 1.0)
        offset_hz = np.abs(line_hz - order * f0_hz)
    kept: FloatArray = np.maximum(1.0, np.pi * offset_hz * length_s) ** -2.0
    kept.flags.writeable = False
    return kept


@lru_cache(maxsize=64)
def _finer(count: int) -> int:
    """Return the samples of a band's envelope, of so many bins."""
    return int(scipy.fft.next_fast_len(int(_FINER * count)))


@lru_cache(maxsize=8)
def _tail(count: int) -> NDArray[np.float32]:
    """Fall of a raised cosine from 1 to 0."""
    tail = (0.5 + 0.5 * np.cos(np.pi * np.arange(count) / count)).astype(np.float32)
    tail.flags.writeable = False
    return tail


@lru_cache(maxsize=64)
def _filter(
    band: OctaveBand, rate_hz: float, size: int, *, lowest: bool
) -> tuple[int, NDArray[np.float32]]:
    """First bin of a band's filter and the amplitude it lets through from there on."""
    low = band.mid_hz * 10.0 ** -(0.15 + (3.0 if lowest else 1.0) * HALF_EDGE)
    high = band.mid_hz * 10.0 ** (0.15 + HALF_EDGE)
    first, last = int(np.ceil(low * size / rate_hz)), int(high * size / rate_hz) + 1
    passed = band_response(
        np.arange(first, last, dtype=np.float64) * (rate_hz / size), band, lowest=lowest
    )
    root = np.sqrt(passed).astype(np.float32)
    root.flags.writeable = False
    return first, root


def _mean_between(values: NDArray[np.floating], first: float, last: float) -> float:
    """Mean of samples between two places, which may lie between samples (boxes of width 1)."""
    low, high = round(first), round(last)
    within = float(np.add.reduce(values[low : high + 1]))
    within -= (first - low + 0.5) * float(values[low]) + (high + 0.5 - last) * float(values[high])
    return within / (last - first)


@dataclass(frozen=True)
class _Quiet:
    """What the quiet leaves in a band: power, that of each mains line, density, spread.

    ``square`` is the integral of the squared density, ``sd`` how well the power is known.
    """

    power: float
    line_power: FloatArray
    density: float
    square: float
    sd: float

    @classmethod
    @lru_cache(maxsize=64)
    def of(cls, noise: Noise | None, band: OctaveBand, *, lowest: bool) -> _Quiet:
        if noise is None:
            return cls(0.0, np.zeros(0), 0.0, 0.0, 0.0)
        passed = band_response(noise.frequency_hz, band, lowest=lowest)
        step = float(noise.frequency_hz[1] - noise.frequency_hz[0])
        density = noise.density * passed
        line_power = noise.line_power * band_response(noise.line_hz, band, lowest=lowest)
        lines = float(line_power.sum())
        floor, square = float(density.sum()) * step, float(density @ density) * step
        mean = square / floor if floor > 0.0 else 0.0
        sd = np.sqrt(BIN_CORRELATION * (square + 2.0 * lines * mean) / noise.length_s)
        return cls(floor + lines, line_power, mean, square, float(sd))


def _levels(powers: list[_BandPower | str], window_s: tuple[float, float]) -> dict[str, Measured]:
    nets = [1.0 if isinstance(power, str) else power.net for power in powers]
    return {
        column: unmeasured("dBFS", power)
        if isinstance(power, str)
        else Measured(
            float(level), "dBFS", _DB * power.sd / power.net, window_s,
            "RMS of an octave band less quiet",
        )
        for column, power, level in zip(
            BAND_LEVELS, powers, mean_square_to_dbfs(nets), strict=True
        )
    }  # fmt: skip


def _shapes(powers: list[_BandPower | str], window_s: tuple[float, float]) -> dict[str, Measured]:
    """Return each band over the sum of all: what the others leave open of the sum counts too."""
    known = [power for power in powers if not isinstance(power, str)]
    total = sum(power.net for power in known)
    all_sd = sum(power.sd**2 for power in known)
    shapes: dict[str, Measured] = {}
    for column, power in zip(BAND_SHAPES, powers, strict=True):
        if isinstance(power, str):
            shapes[column] = unmeasured("dB", power)
            continue
        own = power.sd * (1.0 / power.net - 1.0 / total)
        others = math.sqrt(max(all_sd - power.sd**2, 0.0)) / total
        sd = _DB * math.hypot(own, others)
        value = _DB * math.log(power.net / total)
        shapes[column] = Measured(value, "dB", sd, window_s, "octave band over all bands")
    return shapes
