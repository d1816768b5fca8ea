"""A whole session measured: every recording, several at a time, into tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.kept.store import Store
from tonecompare.language import tr_later
from tonecompare.measure.flags import HUM_ELSEWHERE, unmeasured_flag
from tonecompare.measure.model import FileRecord, Measurements, Noise, PluckCurves, QuietCurves
from tonecompare.measure.outputs.channel_pairs import blend_pairs
from tonecompare.measure.outputs.measure_outputs import (
    BlendPair,
    BlendResult,
    QuietPair,
    measure_blend,
)
from tonecompare.measure.outputs.results import forget_last
from tonecompare.measure.outputs.third_octaves import PluckBands, mean_by_note, take_bands
from tonecompare.measure.place.early_cells import Rows
from tonecompare.measure.place.resonance import resonances_of
from tonecompare.measure.place.shared_release import fit_shared_release
from tonecompare.measure.played.passage_frames import PassageFrames
from tonecompare.measure.played.passages_of_session import PassageKey, with_passages
from tonecompare.measure.played.phrase_curves import phrase_curves
from tonecompare.measure.quiet.noise_power import pool_noise
from tonecompare.measure.quiet.signal_to_hum import with_signal_to_hum
from tonecompare.measure.resonances import OutputKey, SharedRelease
from tonecompare.measure.table import MeasuredSubject, MeasurementTable, Subject
from tonecompare.measure.take import TakeResult, measure_quiets, measure_take, noise_of_channels
from tonecompare.measure.voice import VoicePluck, measure_voice
from tonecompare.session.model import REFERENCE_VOICES, LeftOut, Recording, Session
from tonecompare.takes import load_takes
from tonecompare.takes.file_samples import give_back
from tonecompare.takes.model import Take
from tonecompare.workers.every_recording import every_recording
from tonecompare.workers.in_turn import ProgressCall


@dataclass(frozen=True)
class MeasuredRecording:
    """What one voice at one stage gave; fields as in :class:`Measurements`."""

    table: MeasurementTable = field(default_factory=MeasurementTable)
    curves: Mapping[tuple[str, int, int], PluckCurves] = field(default_factory=dict)
    quiet_curves: Mapping[tuple[str, int, int], QuietCurves] = field(default_factory=dict)
    blends: Mapping[tuple[str, str], BlendResult] = field(default_factory=dict)
    bands: Mapping[tuple[str, str, str], Mapping[str, FloatArray]] = field(default_factory=dict)
    files: tuple[FileRecord, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    #: Played passages by file, channel and number.
    passages: Mapping[PassageKey, PassageFrames] = field(default_factory=dict)
    #: Of every magnetic output the first moments of its plucks, by instrument.
    early: Mapping[str, Mapping[OutputKey, Rows]] = field(default_factory=dict)


def measure_session(
    session: Session,
    *,
    workers: int = 1,
    progress: ProgressCall | None = None,
    store: Store | None = None,
    scheduler: str | None = None,
    meanwhile: Callable[[], object] | None = None,
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
    store
        Where measurements of unchanged recordings are kept, so that none is made twice.
    scheduler
        Address of a dask scheduler whose workers measure, instead of processes here.
    meanwhile
        Done in this process once others measure, if any do.

    Returns
    -------
    Measurements
        Tables in the order of the session's recordings, whatever the number of workers.
    """
    results = every_recording(
        session, measure_recording, workers=workers, store=store, scheduler=scheduler,
        instead=_left_out, progress=progress, meanwhile=meanwhile,
    )  # fmt: skip
    return collected(list(results))


def _left_out(session: Session, recording: Recording, error: Exception) -> MeasuredRecording:
    """Name a recording that cannot be read any more, or has a fault of ours; the rest goes on."""
    if isinstance(error, RecordingError):
        return no_longer_readable(session, error)
    what = f"{type(error).__name__}: {error}"
    reason = tr_later(
        "Could not be measured because of a fault in tonecompare ({what}). Please report it with "
        "the file.",
        what=what,
    )
    files = [session.file_name(path) for path in recording.files]
    return MeasuredRecording(left_out=tuple(LeftOut(file, reason) for file in files))


def measure_recording(session: Session, recording: Recording) -> MeasuredRecording:
    """Measure all files of one voice at one stage.

    Raises
    ------
    RecordingError
        A file changed while it was measured.
    """
    takes, left_out = load_takes(session, recording)
    return measure_takes(session, recording, takes, left_out)


def no_longer_readable(session: Session, error: RecordingError) -> MeasuredRecording:
    """Name the file of a recording that changed while it was measured; the rest goes on."""
    name = session.file_name(error.file)
    return MeasuredRecording(left_out=(LeftOut(name, error.as_sentences, of_file=True),))


def measure_takes(
    session: Session, recording: Recording, takes: Sequence[Take], left_out: Sequence[LeftOut]
) -> MeasuredRecording:
    """Measure one voice at one stage from its takes, already cut."""
    for take in takes:
        give_back(take.audio.samples)
    spare = _spare_noise(takes, mains_hz=session.mains_hz)
    named = [(session.file_name(take.audio.path), take) for take in takes]
    results = [
        measure_take(
            take,
            file=file,
            mains_hz=session.mains_hz,
            a4_hz=session.a4_hz,
            spare_noise=spare.get(take.audio.rate_hz),
        )
        for file, take in named
    ]
    plucks, voices, early = _by_output(session, recording, results)
    quiets = with_signal_to_hum(plucks, [quiet for result in results for quiet in result.quiets])
    blend = _blend(takes, results)
    rows = () if blend is None else blend.rows
    of_voice = [
        replace(row, subject=replace(row.subject, stage=recording.stage, voice=recording.voice))
        for row in rows
    ]
    files = [file for file, _ in named]
    return MeasuredRecording(
        table=MeasurementTable((*plucks, *quiets, *of_voice, *voices)),
        curves={
            (file, *key): curve
            for file, result in zip(files, results, strict=True)
            for key, curve in result.curves.items()
        },
        quiet_curves={
            (file, *key): curve
            for file, result in zip(files, results, strict=True)
            for key, curve in result.quiet_curves.items()
        },
        blends={} if blend is None else {(recording.stage, recording.voice): blend},
        bands={
            (recording.stage, recording.voice, output): of_notes
            for output, of_notes in _bands(takes, results).items()
        },
        files=tuple(
            _file_record(take, file, result)
            for (file, take), result in zip(named, results, strict=True)
        ),
        left_out=tuple(left_out),
        passages={
            (file, *key): frames
            for file, result in zip(files, results, strict=True)
            for key, frames in result.passages.items()
        },
        early={session.stages[recording.stage].instrument: early},
    )


def _by_output(
    session: Session, recording: Recording, results: Sequence[TakeResult]
) -> tuple[tuple[MeasuredSubject, ...], tuple[MeasuredSubject, ...], dict[OutputKey, Rows]]:
    """Return the plucks with what all of an output show together, the outputs, first moments."""
    instrument = session.instrument_of(recording.stage)
    reference = recording.voice.casefold() in REFERENCE_VOICES
    outputs: dict[str, list[VoicePluck]] = {}
    for result in results:
        for entry, partials in zip(result.plucks, result.partials.values(), strict=True):
            outputs.setdefault(entry.subject.output, []).append(VoicePluck(entry, partials))
    complete: dict[Subject, MeasuredSubject] = {}
    voices: list[MeasuredSubject] = []
    early: dict[OutputKey, Rows] = {}
    told = session.voice(recording.voice)
    for output, of_output in outputs.items():
        comb = output == "magnetic" and not reference
        voice = measure_voice(
            of_output,
            comb=comb,
            tuning=instrument.tuning,
            scale_length_mm=instrument.scale_length_mm,
            pickup_distance_mm=told.pickup_distance_mm,
            together=len(told.magnetic_pickups) > 1,
        )
        subject = Subject("voices", recording.stage, recording.voice, output)
        voices.append(MeasuredSubject(subject, voice.quantities, voice.flags))
        complete.update({entry.subject: entry for entry in voice.plucks})
        if comb:
            early[recording.stage, recording.voice, output] = voice.early
    plucks = tuple(complete[entry.subject] for result in results for entry in result.plucks)
    return plucks, tuple(voices), early


def _blend(takes: Sequence[Take], results: Sequence[TakeResult]) -> BlendResult | None:
    """Measure both outputs together; None for recordings of one output."""
    pairs: list[BlendPair] = []
    quiets: list[QuietPair] = []
    for take, result in zip(takes, results, strict=True):
        of_take = blend_pairs(take, result.noise)
        pairs.extend(of_take[0])
        quiets.extend(of_take[1])
    try:
        return measure_blend(pairs, quiets=quiets) if pairs else None
    finally:
        forget_last()


def _bands(
    takes: Sequence[Take], results: Sequence[TakeResult]
) -> dict[str, Mapping[str, FloatArray]]:
    """Power per third octave by output and note, mean over the plucks."""
    bands: PluckBands = {}
    for take, result in zip(takes, results, strict=True):
        for output, of_note in take_bands(take, result.noise).items():
            for note, powers in of_note.items():
                bands.setdefault(output, {}).setdefault(note, []).extend(powers)
    return {output: mean_by_note(notes) for output, notes in bands.items()}


def _spare_noise(takes: Sequence[Take], *, mains_hz: float | None) -> dict[float, dict[int, Noise]]:
    """Noise by rate and channel for files without quiet, from those of the recording with one."""
    if all(take.quiets for take in takes) or not any(take.quiets for take in takes):
        return {}
    found: dict[float, dict[int, list[Noise]]] = {}
    for take in takes:
        of_rate = found.setdefault(take.audio.rate_hz, {})
        for channel, noise in noise_of_channels(measure_quiets(take, mains_hz=mains_hz)).items():
            of_rate.setdefault(channel, []).append(noise)
    return {
        rate_hz: {channel: pool_noise(noises) for channel, noises in channels.items()}
        for rate_hz, channels in found.items()
    }


def _file_record(take: Take, file: str, result: TakeResult) -> FileRecord:
    audio = take.audio
    return FileRecord(
        file=file,
        sha256=audio.sha256,
        rate_hz=audio.rate_hz,
        channels=audio.samples.shape[0],
        subtype=audio.subtype,
        length_s=audio.length_s,
        stage=take.stage,
        voice=take.voice,
        n_plucks=len(take.plucks),
        problems=take.problems,
        mains_asked=tuple(
            flag.data
            for quiet in result.quiets
            for flag in quiet.flags
            if flag.code == HUM_ELSEWHERE
        ),
    )


def collected(results: Sequence[MeasuredRecording]) -> Measurements:
    """Join what the recordings gave into the tables of a session."""
    early: dict[str, dict[OutputKey, Rows]] = {}
    for result in results:
        for instrument, rows in result.early.items():
            # A recording made again at the end tells of drift, not of the pickup.
            early[instrument] = {**rows, **early.get(instrument, {})}
    releases = [fit_shared_release(rows) for rows in early.values()]
    found = tuple(release for release in releases if release is not None)
    passages = {key: frames for result in results for key, frames in result.passages.items()}
    subjects = with_passages(
        [entry for result in results for entry in result.table.subjects], passages
    )
    outputs = [key for rows in early.values() for key in rows]
    table = MeasurementTable(_with_resonances(subjects, found, outputs))
    return Measurements(
        plucks=table.to_frame("plucks"),
        quiet=table.to_frame("quiet"),
        blend=table.to_frame("blend"),
        voices=table.to_frame("voices"),
        blends={key: blend for result in results for key, blend in result.blends.items()},
        bands={key: band for result in results for key, band in result.bands.items()},
        curves={key: curve for result in results for key, curve in result.curves.items()},
        quiet_curves={k: curve for result in results for k, curve in result.quiet_curves.items()},
        files=tuple(record for result in results for record in result.files),
        left_out=tuple(item for result in results for item in result.left_out),
        table=table,
        phrases=phrase_curves(subjects, passages),
        releases=found,
    )


def _with_resonances(
    subjects: Sequence[MeasuredSubject],
    releases: Sequence[SharedRelease],
    outputs: Sequence[OutputKey],
) -> tuple[MeasuredSubject, ...]:
    """Return the outputs with what all of them together tell of their resonances."""
    resonances = resonances_of(releases, outputs)
    complete = []
    for entry in subjects:
        of = entry.subject
        found = resonances.get((of.stage, of.voice, of.output)) if of.kind == "voices" else None
        if found is not None:
            reason = found.frequency_hz.reason or found.q.reason
            entry = entry.joined(
                {"resonance_hz": found.frequency_hz, "resonance_q": found.q},
                (unmeasured_flag(reason, "resonance"),) if reason else (),
            )
        complete.append(entry)
    return tuple(complete)
