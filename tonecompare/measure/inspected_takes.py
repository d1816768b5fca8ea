"""Takes looked at for a check: what is wrong with a file shows in its samples, not in its tables.

Each recording is read and cut once; the measurements come from the same takes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.kept.store import Store
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import (
    MeasuredRecording,
    collected,
    measure_takes,
    no_longer_readable,
)
from tonecompare.session.model import Recording, Session
from tonecompare.session.overrides import stage_overrides
from tonecompare.takes import load_takes
from tonecompare.takes.file_faults import (
    clipped_times,
    digital_silence_s,
    inter_sample_peak,
    sample_peak,
    steepest_fall_hz,
)
from tonecompare.takes.file_samples import BLOCK
from tonecompare.takes.model import Pluck, Quiet, Take
from tonecompare.workers.every_recording import every_recording
from tonecompare.workers.in_turn import ProgressCall

#: Points of a drawn wave.
OUTLINE_POINTS = 400
#: Band in which strings fall silent first and the hiss stays, as shares of the rate.
_HISS_BAND = (0.28, 0.42)
_FRAME, _FRAMES_AT_ONCE = 1024, 512
#: Means over so many frames are compared (about a quarter of a second at 44.1 kHz).
_FRAMES_AVERAGED = 11
#: A quiet less than this above the rounding of its file's samples (6 dB) is made of it: rounding of
#: a faint hum is no hiss, and lower under a loud string.
_ABOVE_ROUNDING = 4.0
#: Bits of a sample; other formats round to nothing that is heard.
_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16}
#: The attack itself is full of high frequencies.
_AFTER_ONSET_S = 0.25


@dataclass(frozen=True)
class Inspected:
    """One file as a check sees it; times are seconds from the start of the file.

    ``outline`` has shape (channels, 2, points): lowest and highest sample of each stretch.
    ``hiss_under_plucks_db`` holds, per pluck, the lowest level of the high band while the string
    rings over its lowest level in the quiet; NaN where it cannot be told.
    """

    file: str
    stage: str
    voice: str
    outputs: tuple[str, ...]
    rate_hz: float
    length_s: float
    subtype: str
    sha256: str
    samples_sha256: str
    flags: tuple[str, ...]
    problems: tuple[str, ...]
    quiets: tuple[Quiet, ...]
    plucks: tuple[Pluck, ...]
    peak: float
    peak_s: float
    peak_between: float
    peak_between_s: float
    clipped_s: tuple[float, ...]
    offset: float
    hard_cut_hz: float | None
    hole_hz: float | None
    silence_s: float
    hiss_under_plucks_db: tuple[float, ...]
    outline: FloatArray
    #: High band in the last 50 ms over what it was in the seconds before, in dB; NaN if too short.
    hiss_at_end_db: float = float("nan")
    #: (file as in takes.csv, pluck) of rows that name a pluck this file does not have.
    rows_without_pluck: tuple[tuple[str, int], ...] = ()


def inspect_session(
    session: Session,
    *,
    workers: int = 1,
    progress: ProgressCall | None = None,
    store: Store | None = None,
    scheduler: str | None = None,
) -> tuple[Measurements, tuple[Inspected, ...]]:
    """Measure every recording and look at every file, in one reading.

    Parameters are those of :func:`tonecompare.measure.measure_session`.

    Raises
    ------
    SessionError
        When a ``takes.csv`` cannot be used.
    """
    measured, looked = [], []
    for result, files in every_recording(
        session,
        _inspect_recording,
        workers=workers,
        store=store,
        scheduler=scheduler,
        instead=_left_out,
        progress=progress,
    ):
        measured.append(result)
        looked.extend(files)
    return collected(measured), tuple(looked)


def _inspect_recording(
    session: Session, recording: Recording
) -> tuple[MeasuredRecording, list[Inspected]]:
    takes, left_out = load_takes(session, recording)
    measured = measure_takes(session, recording, takes, left_out)
    # Nothing here draws the curves, and workers would have to send them.
    measured = replace(measured, curves={}, quiet_curves={})
    return measured, [inspect_take(session, take) for take in takes]


def _left_out(
    session: Session, _: Recording, error: Exception
) -> tuple[MeasuredRecording, list[Inspected]]:
    """Name a recording that cannot be read any more; a fault of ours is none of the takes'."""
    if not isinstance(error, RecordingError):
        raise error
    return no_longer_readable(session, error), []


def inspect_take(session: Session, take: Take) -> Inspected:
    """Look at one file."""
    audio = take.audio
    high = high_band(audio.samples[0])
    peak, peak_s = sample_peak(audio)
    between, between_s = inter_sample_peak(audio)
    edge_hz, risen = steepest_fall_hz(audio)
    offsets = audio.offset
    return Inspected(
        file=session.file_name(audio.path),
        stage=take.stage,
        voice=take.voice,
        outputs=take.outputs,
        rate_hz=audio.rate_hz,
        length_s=audio.length_s,
        subtype=audio.subtype,
        sha256=audio.sha256,
        samples_sha256=_samples_sha256(audio.samples),
        flags=take.flags,
        problems=take.problems,
        quiets=take.quiets,
        plucks=take.plucks,
        peak=peak,
        peak_s=peak_s,
        peak_between=between,
        peak_between_s=between_s,
        clipped_s=tuple(float(t) for t in clipped_times(audio)),
        offset=float(offsets[np.argmax(np.abs(offsets))]),
        hard_cut_hz=None if risen else edge_hz,
        hole_hz=edge_hz if risen else None,
        silence_s=digital_silence_s(audio),
        hiss_under_plucks_db=tuple(hiss_under_plucks_db(take, high)),
        outline=outline(audio.samples),
        hiss_at_end_db=_hiss_at_end_db(high, rate_hz=audio.rate_hz),
        rows_without_pluck=tuple(_rows_without_pluck(session, take)),
    )


def high_band(samples: FloatArray) -> FloatArray:
    """Return the mean power of the band of the hiss in frames of 1024 samples, one channel."""
    n = samples.size // _FRAME
    low, high = (round(share * _FRAME) for share in _HISS_BAND)
    power = np.empty(n)
    for first in range(0, n, _FRAMES_AT_ONCE):
        last = min(first + _FRAMES_AT_ONCE, n)
        frames = samples[first * _FRAME : last * _FRAME].reshape(-1, _FRAME)
        spectrum = np.fft.rfft(frames * np.hanning(_FRAME), axis=1)[:, low:high]
        power[first:last] = (spectrum.real**2 + spectrum.imag**2).mean(axis=1)
    return power


def _samples_sha256(samples: FloatArray) -> str:
    """Return a checksum of what was recorded, whatever file it is in, to 24 bit."""
    digest = hashlib.sha256()
    for channel in samples:
        for first in range(0, channel.size, BLOCK):
            digest.update(np.round(channel[first : first + BLOCK] * 2.0**23).tobytes())
    return digest.hexdigest()


def _hiss_at_end_db(power: FloatArray, *, rate_hz: float) -> float:
    """Last two frames over the lower fifth of the two seconds before the last half second."""
    frame_s = _FRAME / rate_hz
    first, last = power.size - round(2.5 / frame_s), power.size - round(0.5 / frame_s)
    if first < 0:
        return float("nan")
    return _ratio_db(float(power[-2:].mean()), float(np.quantile(power[first:last], 0.2)))


def hiss_under_plucks_db(take: Take, power: FloatArray) -> list[float]:
    """Level of the high band under each pluck over that in the quiet, in dB, the lowest of each.

    A string only adds to the hiss, so that a clean take stays at 0 dB or above (within the spread
    of a mean over about 1000 bins, 0.15 dB); a level control that follows the signal turns the
    hiss down while the string is loud. ``power`` is that of :func:`high_band`.
    """
    rate_hz = take.audio.rate_hz
    if power.size < _FRAMES_AVERAGED or not take.quiets:
        return [float("nan")] * len(take.plucks)
    quiet = [
        _lowest(power, quiet.start_s, quiet.start_s + quiet.length_s, rate_hz)
        for quiet in take.quiets
    ]
    floor = min((value for value in quiet if np.isfinite(value)), default=float("nan"))
    if floor < _ABOVE_ROUNDING * _rounding(take.audio.subtype):
        return [float("nan")] * len(take.plucks)
    return [
        _ratio_db(_lowest(power, pluck.onset_s + _AFTER_ONSET_S, pluck.end_s, rate_hz), floor)
        for pluck in take.plucks
    ]


def _rounding(subtype: str) -> float:
    """Power in a bin of :func:`high_band` of rounding to a file's steps, step²/12, white."""
    bits = _BITS.get(subtype)
    if bits is None:
        return 0.0
    step = 2.0 ** (1 - bits)
    return float(step**2 / 12.0 * np.sum(np.hanning(_FRAME) ** 2))


def _lowest(power: FloatArray, start_s: float, stop_s: float, rate_hz: float) -> float:
    first, last = int(np.ceil(start_s * rate_hz / _FRAME)), int(stop_s * rate_hz / _FRAME)
    inside = power[first:last]
    if inside.size < _FRAMES_AVERAGED:
        return float("nan")
    total = np.cumsum(np.concatenate([[0.0], inside]))
    means = (total[_FRAMES_AVERAGED:] - total[:-_FRAMES_AVERAGED]) / _FRAMES_AVERAGED
    return float(means.min())


def _ratio_db(power: float, floor: float) -> float:
    if not floor > 0.0 or not power >= 0.0:
        return float("nan")
    return 10.0 * float(np.log10(max(power / floor, 1e-12)))


def outline(samples: FloatArray) -> FloatArray:
    """Return the lowest and highest sample of equal stretches, shape (channels, 2, points)."""
    count = min(OUTLINE_POINTS, samples.shape[1])
    edges = np.linspace(0, samples.shape[1], count + 1).astype(int)[:-1]
    found = np.empty((samples.shape[0], 2, edges.size))
    for point, (first, last) in enumerate(pairwise((*edges, samples.shape[1]))):
        part = samples[:, first:last]
        found[:, 0, point], found[:, 1, point] = part.min(axis=1), part.max(axis=1)
    return found


def _rows_without_pluck(session: Session, take: Take) -> Sequence[tuple[str, int]]:
    folder = session.stages[take.stage].folder
    try:
        name = take.audio.path.relative_to(folder).as_posix()
    except ValueError:
        return []
    rows = stage_overrides(folder)
    return [key for key in rows if key[0] == name and not 1 <= key[1] <= take.n_found]
