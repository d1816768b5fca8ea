"""A whole session measured: every recording, several at a time, into tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.errors import TonecompareError
from tonecompare.measure.model import FileRecord, Measurements, Noise, PluckCurves, QuietCurves
from tonecompare.measure.outputs.channel_pairs import blend_pairs
from tonecompare.measure.outputs.measure_outputs import (
    BlendPair,
    BlendResult,
    QuietPair,
    measure_blend,
)
from tonecompare.measure.outputs.third_octaves import PluckBands, mean_by_note, take_bands
from tonecompare.measure.quiet.asked_mains import asked_problems
from tonecompare.measure.quiet.noise_power import pool_noise
from tonecompare.measure.quiet.signal_to_hum import add_signal_to_hum
from tonecompare.measure.ringing.sounding_strings import fill_ring_along
from tonecompare.measure.take import Row, TakeResult, measure_take, quiet_noise
from tonecompare.measure.voice import VOICE_COLUMNS, VoicePluck, measure_voice
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET
from tonecompare.session.model import REFERENCE_VOICES, LeftOut, Recording, Session
from tonecompare.takes import load_takes
from tonecompare.takes.model import Take

#: Called as ``progress(done, total, what)`` after each recording.
ProgressCall = Callable[[int, int, str], None]
_T = TypeVar("_T")
#: Fewer recordings than this are measured in this process: starting workers takes longer.
_WORTH_WORKERS = 4


@dataclass
class _Measured:
    """What one recording gave."""

    pluck_rows: list[Row] = field(default_factory=list)
    quiet_rows: list[Row] = field(default_factory=list)
    blend_rows: list[Row] = field(default_factory=list)
    voice_rows: list[Row] = field(default_factory=list)
    curves: dict[tuple[str, int, int], PluckCurves] = field(default_factory=dict)
    quiet_curves: dict[tuple[str, int, int], QuietCurves] = field(default_factory=dict)
    blends: dict[tuple[str, str], BlendResult] = field(default_factory=dict)
    bands: dict[tuple[str, str, str], dict[str, FloatArray]] = field(default_factory=dict)
    files: list[FileRecord] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)


def measure_session(
    session: Session, *, workers: int = 1, progress: ProgressCall | None = None
) -> Measurements:
    """Measure every recording of a session.

    Parameters
    ----------
    session
        What was recorded.
    workers
        How many recordings to measure at a time, each in a process of its own.
    progress
        Called after each recording.

    Returns
    -------
    Measurements
        Tables in the order of the session's recordings, whatever the number of workers.
    """
    recordings = session.recordings
    results: list[_Measured] = []
    in_turn = recordings_in_turn(session, _measured_or_left_out, workers=workers)
    for done, result in enumerate(in_turn, start=1):
        results.append(result)
        if progress is not None:
            recording = recordings[done - 1]
            progress(done, len(recordings), f"{recording.stage}, {recording.voice}")
    return collected(results)


def _measured_or_left_out(session: Session, recording: Recording) -> _Measured:
    """Measure a recording; a fault of ours in one leaves it out, named, and the rest goes on."""
    try:
        return measure_recording(session, recording)
    except (TonecompareError, KeyboardInterrupt):
        raise
    except Exception as error:
        what = f"{type(error).__name__}: {error}"
        reason = (
            f"Could not be measured because of a fault in tonecompare ({what}). Please report it "
            "with the file."
        )
        files = [session.file_name(path) for path in recording.files]
        return _Measured(left_out=[LeftOut(file, reason) for file in files])


def recordings_in_turn(
    session: Session, work: Callable[[Session, Recording], _T], *, workers: int
) -> Iterable[_T]:
    """Yield what ``work`` makes of each recording, in their order, several at a time."""
    if workers <= 1 or len(session.recordings) < _WORTH_WORKERS:
        return (work(session, recording) for recording in session.recordings)
    import joblib

    parallel = joblib.Parallel(n_jobs=workers, return_as="generator")
    found: Iterable[_T] = parallel(
        joblib.delayed(work)(session, recording) for recording in session.recordings
    )
    return found


def measure_recording(session: Session, recording: Recording) -> _Measured:
    """Measure all files of one voice at one stage."""
    takes, left_out = load_takes(session, recording)
    return measure_takes(session, recording, takes, left_out)


def measure_takes(
    session: Session, recording: Recording, takes: Sequence[Take], left_out: Sequence[LeftOut]
) -> _Measured:
    """Measure one voice at one stage from its takes, already cut."""
    out = _Measured(left_out=list(left_out))
    spare = _spare_noise(takes, mains_hz=session.mains_hz)
    plucks: dict[str, list[VoicePluck]] = {}
    pairs: list[BlendPair] = []
    quiets: list[QuietPair] = []
    bands: PluckBands = {}
    for take in takes:
        file = session.file_name(take.audio.path)
        result = measure_take(
            take,
            file=file,
            mains_hz=session.mains_hz,
            a4_hz=session.a4_hz,
            spare_noise=spare.get(take.audio.rate_hz),
        )
        _add(out, take, file, result)
        for row, (key, partials) in zip(result.pluck_rows, result.partials.items(), strict=True):
            pluck = VoicePluck(row, partials, result.frames[key], result.noise.get(key[0]))
            plucks.setdefault(str(row["output"]), []).append(pluck)
        of_take = blend_pairs(take, result.noise)
        pairs.extend(of_take[0])
        for output, of_note in take_bands(take, result.noise).items():
            for note, powers in of_note.items():
                bands.setdefault(output, {}).setdefault(note, []).extend(powers)
        quiets.extend(of_take[1])
    out.voice_rows = _voice_rows(session, recording, plucks)
    add_signal_to_hum(out.pluck_rows, out.quiet_rows)
    for output, notes in bands.items():
        out.bands[(recording.stage, recording.voice, output)] = mean_by_note(notes)
    if pairs:
        blend = measure_blend(pairs, quiets=quiets)
        out.blends[(recording.stage, recording.voice)] = blend
        of_voice: Row = {"stage": recording.stage, "voice": recording.voice}
        out.blend_rows = [{**of_voice, **row} for row in blend.rows]
    return out


def _voice_rows(
    session: Session, recording: Recording, plucks: Mapping[str, Sequence[VoicePluck]]
) -> list[Row]:
    """Measure what all plucks of each output show together; their rows are completed in place."""
    instrument = session.instrument_of(recording.stage)
    reference = recording.voice.casefold() in REFERENCE_VOICES
    rows: list[Row] = []
    for output, of_output in plucks.items():
        row = measure_voice(
            of_output,
            comb=output == "magnetic" and not reference,
            tuning=instrument.tuning,
            scale_length_mm=instrument.scale_length_mm,
            pickup_distance_mm=session.voice(recording.voice).pickup_distance_mm,
        )
        fill_ring_along(of_output, tuning=instrument.tuning, a4_hz=session.a4_hz)
        name: Row = {"stage": recording.stage, "voice": recording.voice, "output": output}
        rows.append({**name, **row})
    return rows


def _spare_noise(takes: Sequence[Take], *, mains_hz: float | None) -> dict[float, dict[int, Noise]]:
    """Noise by rate and channel for files without quiet, from those of the recording with one."""
    if all(take.quiets for take in takes) or not any(take.quiets for take in takes):
        return {}
    found: dict[float, dict[int, list[Noise]]] = {}
    for take in takes:
        of_rate = found.setdefault(take.audio.rate_hz, {})
        for channel, noise in quiet_noise(take, mains_hz=mains_hz).items():
            of_rate.setdefault(channel, []).append(noise)
    return {
        rate_hz: {channel: pool_noise(noises) for channel, noises in channels.items()}
        for rate_hz, channels in found.items()
    }


def _add(out: _Measured, take: Take, file: str, result: TakeResult) -> None:
    out.pluck_rows.extend(result.pluck_rows)
    out.quiet_rows.extend(result.quiet_rows)
    for (channel, number), curve in result.curves.items():
        out.curves[(file, channel, number)] = curve
    for (channel, number), quiet in result.quiet_curves.items():
        out.quiet_curves[(file, channel, number)] = quiet
    audio = take.audio
    told = [flag for row in result.quiet_rows for flag in row["flags"]]
    out.files.append(
        FileRecord(
            file=file,
            sha256=audio.sha256,
            rate_hz=audio.rate_hz,
            channels=audio.samples.shape[0],
            subtype=audio.subtype,
            length_s=audio.length_s,
            stage=take.stage,
            voice=take.voice,
            n_plucks=len(take.plucks),
            problems=(*take.problems, *asked_problems(told)),
        )
    )


def collected(results: Sequence[_Measured]) -> Measurements:
    """Join what the recordings gave into the tables of a session."""
    curves: dict[tuple[str, int, int], PluckCurves] = {}
    quiet_curves: dict[tuple[str, int, int], QuietCurves] = {}
    for result in results:
        curves.update(result.curves)
        quiet_curves.update(result.quiet_curves)
    return Measurements(
        plucks=_frame([row for result in results for row in result.pluck_rows], MEASUREMENTS),
        quiet=_frame([row for result in results for row in result.quiet_rows], QUIET),
        blend=_frame([row for result in results for row in result.blend_rows], BLEND),
        voices=_frame([row for result in results for row in result.voice_rows], VOICE_COLUMNS),
        blends={key: blend for result in results for key, blend in result.blends.items()},
        bands={key: band for result in results for key, band in result.bands.items()},
        curves=curves,
        quiet_curves=quiet_curves,
        files=tuple(record for result in results for record in result.files),
        left_out=tuple(item for result in results for item in result.left_out),
    )


#: Columns that hold text or counts; all others are floating point, NaN where unmeasured.
_TEXT = ("stage", "voice", "output", "file", "note")
_COUNTS = ("channel", "pluck", "quiet", "n_plucks", "n_notes")
_OPTIONAL_COUNTS = ("string", "ring_along_string", "polarity", "fuller_polarity")


def _frame(rows: Sequence[Row], columns: tuple[str, ...]) -> pd.DataFrame:
    """Rows as a frame: contract columns first, further ones after them."""
    frame = pd.DataFrame(list(rows))
    extra = [name for name in frame.columns if name not in columns]
    frame = frame.reindex(columns=[*columns, *extra])
    for name in frame.columns:
        if name == "flags":
            frame[name] = frame[name].astype(object)
        elif name in _TEXT:
            frame[name] = frame[name].fillna("").astype(object)
        elif name in _COUNTS:
            frame[name] = frame[name].astype("int64")
        elif name in _OPTIONAL_COUNTS:
            frame[name] = frame[name].astype("Int64")
        else:
            frame[name] = frame[name].astype("float64")
    return frame.copy()  # one block: columns set one by one leave it in pieces
