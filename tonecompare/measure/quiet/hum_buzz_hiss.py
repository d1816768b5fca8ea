"""How much hum, buzz and hiss: what a channel carries while the strings are damped.

Levels are RMS re a full-scale sine (AES17). Hum is the power sum of the mains lines up to 1 kHz,
buzz that of the lines above, hiss the rest between 20 Hz and 20 kHz, and ``noise_a_dbfs``
everything between 20 Hz and 20 kHz under the A curve of IEC 61672-1, put on the spectrum.

Limits: below :data:`SHORTEST_S` nothing is measured. Between 0.1 s and 0.2 s lines stand 5 to 10
bins apart and the floor between them is read from two or three bins each; hum then holds to about
0.3 dB. A line less than 2/length_s Hz from a foreign tone (a string left ringing on 247 Hz beside
line 5 of 50 Hz, say) cannot be told from it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.language import tr_later
from tonecompare.measure.flags import BURSTS, Flag, words
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import Noise, QuietCurves
from tonecompare.measure.quiet.a_weighting import a_weighting_gain
from tonecompare.measure.quiet.asked_mains import other_family
from tonecompare.measure.quiet.hiss_floor import (
    Floor,
    NoiseTone,
    find_tones,
    first_floor,
    mean_floor,
    name_tones,
)
from tonecompare.measure.quiet.mains_frequency import Mains, find_mains
from tonecompare.measure.quiet.mains_lines import (
    TOP_HZ,
    LinePower,
    Lines,
    between_lines,
    buzz_powers,
    fit_lines,
    hum_powers,
    nominal_of,
    stands_out,
    subtract_lines,
)
from tonecompare.measure.quiet.quiet_frames import (
    BIN_CORRELATION,
    Frames,
    burst_free_runs,
    find_bursts,
    make_frames,
)
from tonecompare.measure.quiet.quiet_spectrum import quiet_curves
from tonecompare.measure.quiet.wander import Steady, with_wander
from tonecompare.quantities.quiet_and_voice_entries import HUM_LINES
from tonecompare.units import mean_square_to_dbfs

#: Shorter stretches are not measured: five mains cycles.
SHORTEST_S = 0.1
#: Bottom of the audible band.
LOW_HZ = 20.0
#: A mean above this (re full scale) is flagged.
DC_LIMIT_DB = -60.0
#: Samples of an unchanging run this long are digital silence.
SILENCE_RUN_S = 0.01
#: Buzz counts from so many of its standard uncertainties on: of lines too weak to measure (one of
#: them) no more than one quiet in a thousand then shows any, and far too much of it.
BUZZ_OVER_SE = 4.0
#: Grid of :class:`Noise`, about this fine.
DENSITY_STEP_HZ = 2.0
_DB = 10.0 / np.log(10.0)

QUANTITIES = (
    "mains_hz",
    "hum_dbfs",
    *HUM_LINES,
    "buzz_dbfs",
    "hiss_dbfs",
    "noise_a_dbfs",
)


@dataclass(frozen=True)
class QuietResult:
    """What one quiet stretch of one channel carries.

    ``quantities`` is keyed by the columns of ``quiet.csv`` (:data:`QUANTITIES`); ``noise`` and
    ``curves`` are None when nothing could be measured; ``flags`` name tones, hum at another mains
    frequency than was asked for, and "bursts", "dc-offset", "digital-silence", "short".
    """

    quantities: dict[str, Measured]
    noise: Noise | None
    curves: QuietCurves | None
    flags: tuple[Flag, ...]


def _all_unmeasured(reason: str, flags: tuple[Flag, ...]) -> QuietResult:
    quantities = {
        name: unmeasured("Hz" if name == "mains_hz" else "dBFS", reason) for name in QUANTITIES
    }
    return QuietResult(quantities, None, None, flags)


def _silent_share(samples: FloatArray, rate_hz: float) -> float:
    """Share of the samples that stand in runs of one unchanging value."""
    run = max(int(SILENCE_RUN_S * rate_hz), 2)
    changes = np.flatnonzero(np.diff(samples) != 0.0)
    edges = np.concatenate(([-1], changes, [samples.size - 1]))
    lengths = np.diff(edges)
    return float(lengths[lengths >= run].sum()) / samples.size


def _level(power: float, uncertainty: float, window: tuple[float, float], method: str) -> Measured:
    return Measured(
        float(mean_square_to_dbfs(power)), "dBFS", _DB * uncertainty / power, window, method
    )


@dataclass(frozen=True)
class _Split:
    """The spectrum taken apart."""

    frames: Frames
    #: (M, F) density of each frame, (F,) their mean, lines and all.
    each: FloatArray
    density: FloatArray
    floor: Floor
    mains: Mains | None
    lines: Lines | None
    tones: list[NoiseTone]
    #: (F,) False where a tone stands.
    kept: NDArray[np.bool_]
    hiss_spread: float


def _take_apart(frames: Frames, nominal_hz: float | None) -> _Split:
    each = frames.density()
    density = each.mean(axis=0)
    rough = first_floor(density, frames)
    mains = find_mains(frames, density, rough, nominal_hz=nominal_hz)
    lines: Lines | None = None
    residual, weight = density, np.ones(density.size)
    rest = each
    if mains is not None:
        lines = fit_lines(frames, mains, rough)
        rest = subtract_lines(frames, lines, stands_out(frames, lines, rough)).density()
        usable = between_lines(lines, frames)
        weight = usable.mean(axis=0)
        masked = np.where(usable, rest, 0.0).mean(axis=0)
        residual = np.where(weight > 0.0, masked / np.maximum(weight, 1e-9), rest.mean(axis=0))
        rough = first_floor(residual, frames)
    tones, kept = find_tones(residual, weight > 0.5, rough, frames, whole=density)
    weight = np.where(kept, weight, 0.0)
    floor = mean_floor(residual, weight, frames)
    spread = _spread(rest[:, weight == 1.0], frames.frequency_hz[weight == 1.0], frames)
    return _Split(frames, each, density, floor, mains, lines, tones, kept, spread)


def _spread(rest: FloatArray, hz: FloatArray, frames: Frames) -> float:
    """Relative standard uncertainty of the hiss from how much it differs from frame to frame."""
    band = (hz >= LOW_HZ) & (hz <= TOP_HZ)
    if rest.shape[0] < 4 or not band.any():
        return 0.0
    power = rest[:, band].sum(axis=1)
    return float(power.std(ddof=1) / power.mean() / np.sqrt(frames.independent))


def _below(limit: float, window: tuple[float, float]) -> Measured:
    floor_dbfs = float(mean_square_to_dbfs(limit))
    reason = tr_later("below the floor of {floor_dbfs:.0f} dBFS", floor_dbfs=floor_dbfs)
    return replace(unmeasured("dBFS", reason), window_s=window)


def _hum(split: _Split, window: tuple[float, float]) -> tuple[dict[str, Measured], LinePower]:
    assert split.lines is not None
    power = hum_powers(split.frames, split.lines, split.floor)
    method = "least-squares sinusoids at the mains lines, floor's share taken off"
    out: dict[str, Measured] = {}
    for k, name in enumerate(HUM_LINES):
        if k >= power.mean_square.size:
            out[name] = unmeasured("dBFS", "above half the sampling rate")
        elif power.stands_out[k]:
            out[name] = _level(
                float(power.mean_square[k]), float(power.uncertainty[k]), window, method
            )
        else:
            out[name] = _below(float(power.limit[k]), window)
    total = float(power.mean_square.sum())
    se = float(np.sqrt(np.square(power.uncertainty).sum()))
    if power.stands_out.any() and total > 2.0 * se:
        out["hum_dbfs"] = _level(total, se, window, "power sum of the mains lines up to 1 kHz")
    else:
        out["hum_dbfs"] = _below(max(total, 0.0) + max(float(power.limit.max()), 2.0 * se), window)
    return out, power


def _buzz(split: _Split, window: tuple[float, float]) -> tuple[Measured, LinePower]:
    assert split.lines is not None
    power = buzz_powers(split.frames, split.lines, split.each, split.floor, split.kept)
    total = float(power.mean_square.sum())
    se = float(np.sqrt(np.square(power.uncertainty).sum()))
    if se > 0.0 and total > BUZZ_OVER_SE * se:
        method = "power above the floor in the bins of the mains lines above 1 kHz"
        return _level(total, se, window, method), power
    return _below(max(total, 0.0) + 3.0 * se, window), power


def _no_hum(split: _Split, window: tuple[float, float]) -> dict[str, Measured]:
    limit = 10.0 * split.floor.density_at(np.array([60.0]))[0] * 2.0 / split.frames.length_s
    text = tr_later(
        "no mains family stands above the floor; hum is below about {limit_dbfs:.0f} dBFS",
        limit_dbfs=float(mean_square_to_dbfs(limit)),
    )
    out = {"mains_hz": unmeasured("Hz", tr_later("no mains family stands above the floor"))}
    for name in ("hum_dbfs", *HUM_LINES, "buzz_dbfs"):
        out[name] = replace(unmeasured("dBFS", text), window_s=window)
    return out


def _noise_a(split: _Split, window: tuple[float, float]) -> Measured:
    hz = split.frames.frequency_hz
    band = (hz >= LOW_HZ) & (hz <= TOP_HZ)
    gain = np.square(a_weighting_gain(hz[band]))
    total = split.density[band]
    floor = split.floor.density_at(hz[band])
    power = float((gain * total).sum()) * split.frames.bin_hz
    # A steady line P in noise S: variance 2 P S + S².
    beat = split.frames.variance_of_mean("line") * 2.0 * np.maximum(total - floor, 0.0)
    spread = np.square(gain) * floor * (beat + floor / split.frames.independent)
    variance = float(spread.sum()) * BIN_CORRELATION
    return _level(
        power,
        float(np.sqrt(variance)) * split.frames.bin_hz,
        window,
        "A curve of IEC 61672-1 on the power spectrum, 20 Hz to 20 kHz",
    )


def _model(split: _Split, line_power: FloatArray, length_s: float) -> Noise:
    rate_hz = split.frames.rate_hz
    count = round(rate_hz / 2.0 / DENSITY_STEP_HZ) + 1
    grid = np.linspace(0.0, rate_hz / 2.0, count)
    mains_hz = None if split.mains is None else split.mains.frequency_hz
    line_hz = np.zeros(0)
    if split.lines is not None and mains_hz is not None:
        line_hz = split.lines.order * mains_hz
    return Noise(
        rate_hz=rate_hz,
        frequency_hz=grid,
        density=split.floor.density_at(grid),
        mains_hz=mains_hz,
        line_hz=line_hz,
        line_power=line_power,
        length_s=length_s,
    )


def _check(samples: FloatArray, rate_hz: float, mains_hz: float | None) -> FloatArray:
    x = np.asarray(samples, dtype=np.float64)
    if x.ndim != 1:
        raise InputError(f"samples of shape {x.shape}: hand in one channel at a time")
    if not np.isfinite(x).all():
        raise InputError("the quiet holds samples that are not numbers (NaN or infinite)")
    if not rate_hz > 1000.0:
        raise InputError(f"rate_hz={rate_hz:g} is no sampling rate: did you give kHz?")
    if mains_hz is not None and not 45.0 <= mains_hz <= 65.0:
        raise InputError(f"mains_hz={mains_hz:g} must be near 50 or 60, or None to find it")
    return x


def measure_quiet(
    samples: FloatArray, *, rate_hz: float, mains_hz: float | None = None
) -> QuietResult:
    """Return mains frequency, hum, buzz, hiss and A-weighted noise of one quiet stretch.

    Parameters
    ----------
    samples
        (n,) one channel, full scale 1.0.
    rate_hz
        Sampling rate in Hz.
    mains_hz
        50 or 60 when known (the exact frequency is found in any case), None to decide from the
        recording.

    Returns
    -------
    QuietResult
        Levels in dBFS (AES17) and the mains frequency in Hz, each with its standard uncertainty.
        A line or family that does not stand above the floor is unmeasured, with the limit in the
        reason.

    Raises
    ------
    InputError
        For samples that are not one channel of finite numbers, or an impossible rate.
    """
    x = _check(samples, rate_hz, mains_hz)
    length_s = x.size / rate_hz
    if length_s < SHORTEST_S:
        return _all_unmeasured(
            tr_later(
                "the quiet is {length_ms:.0f} ms long; at least 100 ms are needed",
                length_ms=1000.0 * length_s,
            ),
            words("short"),
        )
    silent = _silent_share(x, rate_hz)
    if silent > 0.1:
        return _all_unmeasured(
            tr_later(
                "{share:.0f} % of the quiet is digital silence (a gate, a fade or an edit)",
                share=100.0 * float(silent),
            ),
            words("digital-silence"),
        )
    flags: list[Flag] = []
    offset = float(x.mean())
    if abs(offset) > 10.0 ** (DC_LIMIT_DB / 20.0):
        flags.append(Flag("dc-offset"))
    x = x - offset
    bursts = find_bursts(x, rate_hz)
    runs = burst_free_runs(bursts, n=x.size, rate_hz=rate_hz)
    if bursts.any():
        flags.append(Flag(BURSTS))
        if max((b - a for a, b in runs), default=0) < SHORTEST_S * rate_hz:
            return _all_unmeasured(
                tr_later("interference bursts leave no 100 ms of the quiet free"), tuple(flags)
            )
    frames = make_frames(x, rate_hz=rate_hz, runs=runs)
    nominal_hz = None if mains_hz is None else nominal_of(mains_hz)
    split = _take_apart(frames, nominal_hz)
    if nominal_hz is not None:
        rough = first_floor(split.density, frames)
        flags += other_family(frames, split.density, rough, nominal_hz=nominal_hz)
    result = _collect(split, length_s, flags)
    assert result.noise is not None
    steady = Steady(
        result.noise.line_hz,
        result.noise.line_power,
        0 if split.lines is None else split.lines.n_hum,
        result.noise.frequency_hz,
        result.noise.density,
    )
    band_hz = (LOW_HZ, min(TOP_HZ, rate_hz / 2.0))
    quantities = with_wander(
        result.quantities, x, rate_hz=rate_hz, runs=runs, steady=steady, band_hz=band_hz
    )
    return replace(result, quantities=quantities)


def _collect(split: _Split, length_s: float, flags: list[Flag]) -> QuietResult:
    window = (0.0, length_s)
    line_power = np.zeros(0)
    if split.mains is None:
        found = _no_hum(split, window)
    else:
        found = {
            "mains_hz": Measured(
                split.mains.frequency_hz,
                "Hz",
                split.mains.uncertainty_hz,
                window,
                "maximum likelihood over the family of mains lines",
            )
        }
        hum, hum_power = _hum(split, window)
        found.update(hum)
        found["buzz_dbfs"], buzz_power = _buzz(split, window)
        line_power = np.concatenate(
            [np.where(p.stands_out, p.mean_square, 0.0) for p in (hum_power, buzz_power)]
        )
    hiss, hiss_se = split.floor.power(LOW_HZ, min(TOP_HZ, split.frames.rate_hz / 2.0))
    hiss_se = max(hiss_se, hiss * split.hiss_spread)
    found["hiss_dbfs"] = _level(hiss, hiss_se, window, "floor between the lines, 20 Hz to 20 kHz")
    found["noise_a_dbfs"] = _noise_a(split, window)
    flags += name_tones(split.tones)
    return QuietResult(
        quantities={name: found[name] for name in QUANTITIES},
        noise=_model(split, line_power, length_s),
        curves=quiet_curves(split.frames, split.density),
        flags=tuple(flags),
    )
