"""One take measured: a row per pluck and channel, a row per quiet stretch and channel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import BEATING, UNSETTLED, Flag, flags_of, words
from tonecompare.measure.model import Measured, Noise, PluckCurves, QuietCurves
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult, measure_quiet
from tonecompare.measure.quiet.noise_power import pool_noise
from tonecompare.measure.ringing.narrow_lines import BEFORE_ENDS_S, BEFORE_S, RingFrame, ring_frame
from tonecompare.measure.signal import PluckSignal
from tonecompare.measure.single_pluck import PluckResult, measure_pluck
from tonecompare.quantities.registry import N_DECAY_PARTIALS
from tonecompare.takes.model import Pluck, Take

Row = dict[str, Any]


@dataclass(frozen=True)
class TakeResult:
    """Rows and curves of one file, keyed by channel and number from 1 as in the tables."""

    pluck_rows: list[Row]
    quiet_rows: list[Row]
    curves: dict[tuple[int, int], PluckCurves]
    quiet_curves: dict[tuple[int, int], QuietCurves]
    partials: dict[tuple[int, int], PartialSet]
    noise: dict[int, Noise] = field(default_factory=dict)
    frames: dict[tuple[int, int], RingFrame | None] = field(default_factory=dict)


def measure_take(
    take: Take,
    *,
    file: str,
    mains_hz: float | None = None,
    a4_hz: float = 440.0,
    spare_noise: Mapping[int, Noise] | None = None,
) -> TakeResult:
    """Measure the quiet stretches and plucks of a take.

    Parameters
    ----------
    take
        One file, cut.
    file
        Its name in the tables.
    mains_hz
        Nominal mains frequency (50 or 60), or None to find it.
    a4_hz
        Concert pitch.
    spare_noise
        Noise by channel from neighbouring files of the recording, used where this file has no
        quiet of its own.

    Returns
    -------
    TakeResult
    """
    quiet_rows: list[Row] = []
    quiet_curves: dict[tuple[int, int], QuietCurves] = {}
    noise = quiet_noise(take, mains_hz=mains_hz, file=file, rows=quiet_rows, curves=quiet_curves)
    for channel, spare in (spare_noise or {}).items():
        if spare.rate_hz == take.audio.rate_hz:
            noise.setdefault(channel, spare)
    pluck_rows: list[Row] = []
    curves: dict[tuple[int, int], PluckCurves] = {}
    partials: dict[tuple[int, int], PartialSet] = {}
    frames: dict[tuple[int, int], RingFrame | None] = {}
    for pluck in take.plucks:
        for channel in range(1, take.audio.samples.shape[0] + 1):
            signal = pluck_signal(take, pluck, channel, noise.get(channel))
            result = measure_pluck(signal, note=pluck.note, a4_hz=a4_hz)
            key = (channel, pluck.number)
            curves[key], partials[key] = result.curves, result.partials
            frames[key] = ring_frame(signal, _before(take, pluck, channel))
            pluck_rows.append(_pluck_row(take, file, pluck, channel, result))
    return TakeResult(pluck_rows, quiet_rows, curves, quiet_curves, partials, noise, frames)


def pluck_signal(take: Take, pluck: Pluck, channel: int, noise: Noise | None) -> PluckSignal:
    """Cut one pluck on one channel (from 1) for measuring."""
    rate_hz = take.audio.rate_hz
    onset_s = pluck.channel_onset_s[channel - 1]
    first = max(0, int(np.ceil(onset_s * rate_hz - 1e-6)))
    last = min(take.audio.samples.shape[1], round(pluck.end_s * rate_hz))
    offset = float(take.audio.offset[channel - 1])
    return PluckSignal(
        samples=take.audio.samples[channel - 1, first : max(first, last)] - offset,
        rate_hz=rate_hz,
        f0_hz=pluck.f0_hz,
        noise=noise,
        lag_s=first / rate_hz - onset_s,
        flags=pluck.flags,
        onset_sd_s=pluck.onset_sd_s(channel),
        offset=offset,
    )


def _before(take: Take, pluck: Pluck, channel: int) -> FloatArray:
    """Return the samples before the onset in which nothing of this pluck is yet."""
    rate_hz = take.audio.rate_hz
    last = max(0, int((pluck.channel_onset_s[channel - 1] - BEFORE_ENDS_S) * rate_hz))
    return take.audio.samples[channel - 1, max(0, last - int(BEFORE_S * rate_hz)) : last]


def quiet_noise(
    take: Take,
    *,
    mains_hz: float | None,
    file: str = "",
    rows: list[Row] | None = None,
    curves: dict[tuple[int, int], QuietCurves] | None = None,
) -> dict[int, Noise]:
    """Noise of each channel (from 1) from all its quiet stretches, filling rows and curves."""
    rate_hz = take.audio.rate_hz
    found: dict[int, list[Noise]] = {}
    for number, quiet in enumerate(take.quiets, start=1):
        first = round(quiet.start_s * rate_hz)
        last = first + round(quiet.length_s * rate_hz)
        for channel in range(1, take.audio.samples.shape[0] + 1):
            samples: FloatArray = take.audio.samples[channel - 1, first:last]
            result = measure_quiet(samples, rate_hz=rate_hz, mains_hz=mains_hz)
            if result.noise is not None:
                found.setdefault(channel, []).append(result.noise)
            if result.curves is not None and curves is not None:
                curves[(channel, number)] = result.curves
            if rows is not None:
                rows.append(_quiet_row(take, file, number, channel, result))
    return {channel: pool_noise(noises) for channel, noises in found.items()}


def _pluck_row(take: Take, file: str, pluck: Pluck, channel: int, result: PluckResult) -> Row:
    quantities = result.quantities
    onset_s = pluck.channel_onset_s[channel - 1]
    row: Row = {
        "stage": take.stage,
        "voice": take.voice,
        "output": take.outputs[channel - 1],
        "file": file,
        "channel": channel,
        "pluck": pluck.number,
        "note": pluck.note,
        "string": pluck.string,
        "onset_s": onset_s,
        "onset_s_se": pluck.onset_sd_s(channel),
        "ring_s": pluck.end_s - onset_s,
        "flags": flags_of(
            (
                *words(*take.flags, *pluck.flags),
                *beating(result.partials),
                *unsettled(result.partials),
            ),
            quantities,
        ),
    }
    return row | _values(quantities)


def _quiet_row(take: Take, file: str, number: int, channel: int, result: QuietResult) -> Row:
    quiet = take.quiets[number - 1]
    row: Row = {
        "stage": take.stage,
        "voice": take.voice,
        "output": take.outputs[channel - 1],
        "file": file,
        "channel": channel,
        "start_s": quiet.start_s,
        "length_s": quiet.length_s,
        "quiet": number,
        "flags": flags_of((*words(*take.flags), *result.flags), result.quantities),
    }
    return row | _values(result.quantities)


def beating(partials: PartialSet) -> tuple[Flag, ...]:
    """Return the flag that names partials 1…12 whose two components beat, with the slowest beat."""
    beats = partials.beat_hz[:N_DECAY_PARTIALS]
    orders = np.flatnonzero(np.isfinite(beats)) + 1
    if orders.size == 0:
        return ()
    return (Flag(BEATING, (tuple(orders.tolist()), float(np.nanmin(beats)))),)


def unsettled(partials: PartialSet) -> tuple[Flag, ...]:
    """Return the flag that names measured partials whose fit ended before it had come to rest."""
    orders = np.flatnonzero(partials.measured & ~partials.converged) + 1
    return (Flag(UNSETTLED, (tuple(orders.tolist()),)),) if orders.size else ()


def _values(quantities: Mapping[str, Measured]) -> Row:
    """Values and their standard uncertainties (column ``<name>_se``); None where unmeasured.

    An uncertainty of 0 says that nothing is known of the noise (no quiet), so it is unknown too.
    """
    row: Row = {}
    for name, measured in quantities.items():
        row[name] = measured.value
        known = measured.value is not None and bool(measured.uncertainty)
        row[f"{name}_se"] = measured.uncertainty if known else None
    return row
