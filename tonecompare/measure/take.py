"""One take measured: numbers per pluck and channel, and per quiet stretch and channel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import BEATING, EVENTS, NOTES, UNSETTLED, Flag, words
from tonecompare.measure.measured import Measured, flags_of
from tonecompare.measure.model import Noise, PluckCurves, QuietCurves
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.played.measure_passage import measure_passage
from tonecompare.measure.played.passage_frames import PassageFrames, passage_frames
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult, measure_quiet
from tonecompare.measure.quiet.noise_power import pool_noise
from tonecompare.measure.signal import PluckSignal
from tonecompare.measure.single_pluck import PluckResult, measure_plucks
from tonecompare.measure.table import MeasuredSubject, Subject
from tonecompare.quantities.registry import N_DECAY_PARTIALS
from tonecompare.session.note_names import note_number
from tonecompare.takes.file_samples import give_back
from tonecompare.takes.model import Pluck, Take

#: Quiet stretches of a file whose noise is pooled: more make it no surer than it drifts.
MOST_POOLED = 64
#: Plucks that are looked at before memory is given back.
_STRETCH = 32
#: Plucks measured together, and how many samples they may have in all, each with the windows that
#: are transformed of it: for the processor's caches, and for the memory.
_MOST_TOGETHER = 8
_MOST_SAMPLES = 1_500_000
_WINDOWS_S = 1.5


@dataclass(frozen=True)
class TakeResult:
    """Numbers and curves of one file, keyed by channel and number from 1 as in the tables.

    ``plucks`` has one per pluck and channel, ``quiets`` one per quiet stretch and channel.
    """

    plucks: tuple[MeasuredSubject, ...]
    quiets: tuple[MeasuredSubject, ...]
    curves: dict[tuple[int, int], PluckCurves]
    quiet_curves: dict[tuple[int, int], QuietCurves]
    partials: dict[tuple[int, int], PartialSet]
    noise: dict[int, Noise] = field(default_factory=dict)
    #: Played passages by (channel, number).
    passages: dict[tuple[int, int], PassageFrames] = field(default_factory=dict)


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
    found = measure_quiets(take, mains_hz=mains_hz)
    noise = noise_of_channels(found)
    for channel, spare in (spare_noise or {}).items():
        if spare.rate_hz == take.audio.rate_hz:
            noise.setdefault(channel, spare)
    measured: dict[tuple[int, int], tuple[MeasuredSubject, PluckResult]] = {}
    passages: dict[tuple[int, int], PassageFrames] = {}
    for stretch in _stretches(take):
        give_back(take.audio.samples)
        for lot in _lots(stretch, take.audio.rate_hz):
            signals = [pluck_signal(take, *each, noise.get(each[1])) for each in lot]
            if lot[0][0].events_s:
                results = [measure_passage(signals[0])]
            else:
                results = measure_plucks(signals, notes=[each.note for each, _ in lot], a4_hz=a4_hz)
            for (pluck, channel), signal, result in zip(lot, signals, results, strict=True):
                key = (channel, pluck.number)
                if pluck.events_s:
                    begin_s = tuple(each - pluck.onset_s for each in pluck.events_s)
                    passages[key] = passage_frames(signal, events_s=begin_s)
                # The partials' course is done with, and the largest of what is known of them.
                clean = result.partials.clean[:, :0].copy()
                result = replace(result, partials=replace(result.partials, clean=clean))
                measured[key] = _of_pluck(take, file, pluck, channel, result), result
    in_order = [(channel, pluck.number) for pluck, channel in _of_channels(take)]
    return TakeResult(
        plucks=tuple(measured[key][0] for key in in_order),
        quiets=tuple(_of_quiet(take, file, *key, result) for key, result in found.items()),
        curves={key: measured[key][1].curves for key in in_order},
        quiet_curves={key: q.curves for key, q in found.items() if q.curves is not None},
        partials={key: measured[key][1].partials for key in in_order},
        noise=noise,
        passages=passages,
    )


def _of_channels(take: Take) -> list[tuple[Pluck, int]]:
    """Every pluck with every channel (from 1)."""
    channels = range(1, take.audio.samples.shape[0] + 1)
    return [(pluck, channel) for pluck in take.plucks for channel in channels]


def _stretches(take: Take) -> Iterator[list[tuple[Pluck, int]]]:
    """Plucks with channels that follow one another, between which memory is given back."""
    every = _of_channels(take)
    for first in range(0, len(every), _STRETCH):
        yield every[first : first + _STRETCH]


def _lots(
    stretch: Sequence[tuple[Pluck, int]], rate_hz: float
) -> Iterator[list[tuple[Pluck, int]]]:
    """Plucks with channels, as many at once as are measured together; passages alone.

    Those of a note come together, since what is alike in length is fitted at once.
    """
    lot: list[tuple[Pluck, int]] = []
    length = 0.0
    for pluck, channel in sorted(stretch, key=lambda each: each[0].note):
        own = (pluck.end_s - pluck.onset_s + _WINDOWS_S) * rate_hz
        full = len(lot) == _MOST_TOGETHER or length + own > _MOST_SAMPLES
        if lot and (full or pluck.events_s or lot[0][0].events_s):
            yield lot
            lot, length = [], 0.0
        lot.append((pluck, channel))
        length += own
    yield lot


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
        onset_sd_s=pluck.onset_sd_s(channel),
        offset=offset,
        is_chord=bool(pluck.chord),
        lowest_hz=_lowest_hz(pluck.chord),
    )


def _lowest_hz(chord: tuple[str, ...]) -> float | None:
    """Pitch of the lowest note at A4 = 440 Hz, None without notes."""
    numbers = [note_number(name) for name in chord]
    return 440.0 * 2.0 ** ((min(numbers) - 69) / 12.0) if numbers else None


def measure_quiets(take: Take, *, mains_hz: float | None) -> dict[tuple[int, int], QuietResult]:
    """Measure every quiet stretch on every channel, by channel and number from 1."""
    rate_hz = take.audio.rate_hz
    found: dict[tuple[int, int], QuietResult] = {}
    for number, quiet in enumerate(take.quiets, start=1):
        first = round(quiet.start_s * rate_hz)
        last = first + round(quiet.length_s * rate_hz)
        for channel in range(1, take.audio.samples.shape[0] + 1):
            samples: FloatArray = take.audio.samples[channel - 1, first:last]
            result = measure_quiet(samples, rate_hz=rate_hz, mains_hz=mains_hz)
            found[channel, number] = replace(result, noise=None) if number > MOST_POOLED else result
    return found


def noise_of_channels(quiets: Mapping[tuple[int, int], QuietResult]) -> dict[int, Noise]:
    """Return the noise of each channel (from 1) from all its quiet stretches."""
    found: dict[int, list[Noise]] = {}
    for (channel, _), result in quiets.items():
        if result.noise is not None:
            found.setdefault(channel, []).append(result.noise)
    return {channel: pool_noise(noises) for channel, noises in found.items()}


def _of_pluck(
    take: Take, file: str, pluck: Pluck, channel: int, result: PluckResult
) -> MeasuredSubject:
    onset_s = pluck.channel_onset_s[channel - 1]
    subject = Subject(
        "plucks", take.stage, take.voice, take.outputs[channel - 1], file, channel,
        pluck=pluck.number, note=pluck.note, string=pluck.string,
    )  # fmt: skip
    quantities = {
        "onset_s": Measured(onset_s, "s", pluck.onset_sd_s(channel)),
        "ring_s": Measured(pluck.end_s - onset_s, "s"),
        **result.quantities,
    }
    flags = (
        *words(*take.flags, *pluck.flags),
        *([Flag(NOTES, pluck.chord)] if pluck.chord else []),
        *([Flag(EVENTS, (len(pluck.events_s),))] if pluck.events_s else []),
        *beating(result.partials),
        *unsettled(result.partials),
    )
    return MeasuredSubject(subject, quantities, flags_of(flags, quantities))


def _of_quiet(
    take: Take, file: str, channel: int, number: int, result: QuietResult
) -> MeasuredSubject:
    quiet = take.quiets[number - 1]
    subject = Subject(
        "quiet", take.stage, take.voice, take.outputs[channel - 1], file, channel, quiet=number
    )
    quantities = {
        "start_s": Measured(quiet.start_s, "s"),
        "length_s": Measured(quiet.length_s, "s"),
        **result.quantities,
    }
    return MeasuredSubject(
        subject, quantities, flags_of((*words(*take.flags), *result.flags), quantities)
    )


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
