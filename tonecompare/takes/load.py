"""From the files of one recording to takes: read, quiet, plucks, notes, flags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tonecompare.errors import RecordingError
from tonecompare.session.model import LeftOut, Recording, Session
from tonecompare.session.overrides import Override, stage_overrides
from tonecompare.takes.cut import find_end
from tonecompare.takes.detect import SAME_PLUCK_S, Rise, band_floor, find_rises
from tonecompare.takes.faults import clipped_times, file_faults, usable_channels
from tonecompare.takes.frames import BandFrames, band_frames
from tonecompare.takes.judge import Found, in_order, is_noise, judge_pluck, median_level
from tonecompare.takes.model import Audio, FloatArray, Pluck, Quiet, Take
from tonecompare.takes.note import find_pitch, nearest_note, open_strings, string_number
from tonecompare.takes.onset import place_onset
from tonecompare.takes.quiet import find_quiets, quiet_floor
from tonecompare.takes.read import read_audio


@dataclass(frozen=True)
class _Looked:
    """A file read and looked at, before its plucks are cut."""

    audio: Audio
    outputs: tuple[str, ...]
    frames: BandFrames
    floor: FloatArray
    onsets_s: tuple[tuple[float, ...], ...]
    rises: tuple[Rise, ...]
    quiets: tuple[Quiet, ...]
    clipped_s: FloatArray


def load_takes(session: Session, recording: Recording) -> tuple[list[Take], list[LeftOut]]:
    """Read the files of one recording and cut them into quiet stretches and plucks.

    Parameters
    ----------
    session
        What was recorded: outputs, tuning, A4, ``takes.csv`` beside the recordings.
    recording
        One voice at one stage.

    Returns
    -------
    takes
        One per usable file, in order.
    left_out
        The files that could not be used, each with the reason.

    Raises
    ------
    SessionError
        When a ``takes.csv`` cannot be used.
    """
    stage = session.stages[recording.stage]
    overrides = stage_overrides(stage.folder)
    outputs = voice_outputs(session, recording.voice)
    looked: list[_Looked] = []
    left_out: list[LeftOut] = []
    for path in recording.files:
        try:
            looked.append(_look(path, outputs=outputs))
        except RecordingError as error:
            what = error.what[:1].upper() + error.what[1:]
            left_out.append(LeftOut(_named(path, session.root), f"{what}. {error.remedy}".strip()))
    pooled = _pooled_quiet(looked)
    tuning = session.instrument_of(recording.stage).tuning
    found = [_find_plucks(each, pooled=pooled, a4_hz=session.a4_hz) for each in looked]
    median_db = median_level([p.level_db for plucks in found for p in plucks if p.pitch])
    found = [[p for p in plucks if not is_noise(p, median_level_db=median_db)] for plucks in found]
    strings = open_strings([p.note for plucks in found for p in plucks if p.note], tuning)
    takes = []
    for each, plucks in zip(looked, found, strict=True):
        if not plucks and not each.quiets:
            reason = "No pluck and no quiet stretch was found in it. Record it again."
            left_out.append(LeftOut(_named(each.audio.path, session.root), reason))
            continue
        has_quiet = bool(each.quiets) or each.audio.rate_hz in pooled
        judged = [
            Pluck(
                number=number,
                channel_onset_s=pluck.channel_onset_s,
                end_s=pluck.end_s,
                ended_by=pluck.ended_by,
                f0_hz=pluck.pitch.f0_hz if pluck.pitch else None,
                note=pluck.note,
                string=strings.get(pluck.note)
                or (string_number(pluck.note, tuning) if pluck.note else None),
                flags=judge_pluck(
                    pluck,
                    median_level_db=median_db,
                    has_quiet=has_quiet,
                    clipped_s=each.clipped_s,
                    a4_hz=session.a4_hz,
                ),
            )
            for number, pluck in enumerate(plucks, start=1)
        ]
        relative = _named(each.audio.path, stage.folder)
        takes.append(
            _take(recording, each, _overridden(judged, relative, overrides), pooled=bool(pooled))
        )
    return takes, left_out


def voice_outputs(session: Session, voice: str) -> tuple[str, ...]:
    """Return what a voice's channels carry: as session.toml says, else guessed from its name.

    One entry stands for a mono file. Without session.toml a voice named piezo… carries the piezo,
    blend… the blend, any other the magnetic pickups; two channels are magnetic and piezo.
    """
    if voice in session.voices:
        return session.voices[voice].outputs
    lowered = voice.casefold()
    for output in ("piezo", "blend"):
        if lowered.startswith(output):
            return (output,)
    return ("magnetic",)


def _channel_outputs(
    outputs: tuple[str, ...], *, n: int, channels: tuple[int, ...]
) -> tuple[str, ...]:
    """Return the outputs of the channels kept, of a file of n channels."""
    if n == 1:
        return outputs[:1]
    pair = outputs if len(outputs) == 2 else ("magnetic", "piezo")
    return tuple(pair[channel] for channel in channels) if len(channels) == n else outputs[:1]


def _look(path: Path, *, outputs: tuple[str, ...]) -> _Looked:
    whole = read_audio(path)
    audio, channels = usable_channels(whole)
    frames = band_frames(audio.samples, rate_hz=audio.rate_hz)
    lowest = band_floor(frames)
    found = find_rises(audio.samples, rate_hz=audio.rate_hz, frames=frames, floor=lowest)
    onsets, rises = _placed(audio, found)
    quiets = find_quiets(frames, onsets_s=[min(each) for each in onsets])
    floor = quiet_floor(frames, quiets)
    return _Looked(
        audio=audio,
        outputs=_channel_outputs(outputs, n=whole.samples.shape[0], channels=channels),
        frames=frames,
        floor=lowest if floor is None else floor,
        onsets_s=onsets,
        rises=rises,
        quiets=quiets,
        clipped_s=clipped_times(audio),
    )


def _placed(
    audio: Audio, rises: Sequence[Rise]
) -> tuple[tuple[tuple[float, ...], ...], tuple[Rise, ...]]:
    """Onsets per rise and channel; of rises that turn out to be one pluck the first is kept."""
    kept: list[tuple[tuple[float, ...], Rise]] = []
    for rise in rises:
        onsets = _channel_onsets(audio, rise)
        if not kept or min(onsets) - min(kept[-1][0]) >= SAME_PLUCK_S:
            kept.append((onsets, rise))
    return tuple(onsets for onsets, _ in kept), tuple(rise for _, rise in kept)


def _channel_onsets(audio: Audio, rise: Rise) -> tuple[float, ...]:
    onsets = [
        place_onset(channel, rate_hz=audio.rate_hz, near_s=rise.time_s) for channel in audio.samples
    ]
    if len(onsets) == 2 and abs(onsets[1] - onsets[0]) > 0.008:
        at = round(rise.time_s * audio.rate_hz)
        part = audio.samples[:, at : at + round(0.05 * audio.rate_hz)]
        onsets = [onsets[int(np.argmax(part.std(axis=1)))]] * 2
    return tuple(onsets)


def _pooled_quiet(looked: Sequence[_Looked]) -> dict[float, tuple[FloatArray, FloatArray]]:
    """Per sample rate: band floor and samples of the longest quiet of the recording's files."""
    best: dict[float, tuple[float, FloatArray, FloatArray]] = {}
    for each in looked:
        for quiet in each.quiets:
            known = best.get(each.audio.rate_hz)
            if known is None or quiet.length_s > known[0]:
                start = round(quiet.start_s * each.audio.rate_hz)
                stop = start + round(quiet.length_s * each.audio.rate_hz)
                samples = each.audio.samples[:, start:stop]
                best[each.audio.rate_hz] = (quiet.length_s, each.floor, samples)
    return {rate_hz: (floor, samples) for rate_hz, (_, floor, samples) in best.items()}


def _find_plucks(
    each: _Looked, *, pooled: Mapping[float, tuple[FloatArray, FloatArray]], a4_hz: float
) -> list[Found]:
    floor, quiet = each.floor, None
    if each.audio.rate_hz in pooled:
        pooled_floor, quiet = pooled[each.audio.rate_hz]
        if quiet.shape[0] != each.audio.samples.shape[0]:
            quiet = None
        elif not each.quiets:
            floor = pooled_floor
    starts = [min(onset) for onset in each.onsets_s]
    found: list[Found] = []
    for i, (onsets, rise) in enumerate(zip(each.onsets_s, each.rises, strict=True)):
        following = starts[i + 1] if i + 1 < len(starts) else None
        end = find_end(each.frames, floor, onset_s=starts[i], next_onset_s=following)
        pitch = find_pitch(
            each.audio.samples,
            rate_hz=each.audio.rate_hz,
            onset_s=starts[i],
            end_s=end.end_s,
            quiet=quiet,
            ringing_since_s=starts[i - 1] if i and "replucked" in found[-1].flags else None,
            same_string=rise.sound.same_string if rise.sound else None,
        )
        found.append(
            Found(
                channel_onset_s=onsets,
                end_s=end.end_s,
                ended_by=end.ended_by,
                level_db=rise.level_db,
                fall_db=rise.fall_db,
                over_ringing=bool(found) and "replucked" in found[-1].flags,
                pitch=pitch,
                note=nearest_note(pitch.f0_hz, a4_hz=a4_hz) if pitch else "",
                flags=(*end.flags, *_file_start_flag(each, starts[i])),
            )
        )
    return found


def _file_start_flag(each: _Looked, onset_s: float) -> tuple[str, ...]:
    """Whether a note that begins with the file has its attack.

    With the attack it is bright at first: above 1 kHz at least 6 dB over what it is 0.15 s later,
    or 2 dB when the file also begins at zero.
    """
    if onset_s > 0.0:
        return ()
    frames = each.frames
    high = frames.power[:, np.flatnonzero(frames.edges_hz[:-1] >= 1000.0)].sum(axis=1)
    start, later = frames.frames_of(0.03), frames.frames_of(0.15)
    attack, rest = high[:, 1:start].mean(axis=1), high[:, later : later + start].mean(axis=1)
    head = np.abs(each.audio.samples[:, : round(0.03 * each.audio.rate_hz)])
    from_zero = head[:, 0] < 0.03 * head.max(axis=1)
    has_attack = (attack > 4.0 * rest) | (from_zero & (attack > 1.6 * rest))
    return ("trimmed",) if has_attack.any() else ("starts-inside",)


def _overridden(
    plucks: Sequence[Pluck], file: str, overrides: Mapping[tuple[str, int], Override]
) -> tuple[Pluck, ...]:
    """Plucks with what takes.csv says of them; those it leaves out are gone."""
    out = []
    for pluck in plucks:
        override = overrides.get((file, pluck.number))
        if override is None:
            out.append(pluck)
        elif override.use:
            onsets = pluck.channel_onset_s
            if override.onset_s is not None:
                onsets = tuple(t + override.onset_s - pluck.onset_s for t in onsets)
            out.append(
                replace(
                    pluck,
                    channel_onset_s=onsets,
                    note=override.note or pluck.note,
                    string=override.string if override.string is not None else pluck.string,
                    flags=in_order({*pluck.flags, "overridden"}),
                )
            )
    return tuple(out)


def _take(recording: Recording, each: _Looked, plucks: tuple[Pluck, ...], *, pooled: bool) -> Take:
    faults = file_faults(each.audio, clipped_s=each.clipped_s)
    flags = {*each.audio.flags, *(flag for flag, _ in faults)}
    problems = [*each.audio.problems, *(said for _, said in faults)]
    if not each.quiets:
        flags.add("no-quiet")
        other = (
            "that of another file of this recording was used"
            if pooled
            else ("hum and hiss could not be measured nor taken off")
        )
        problems.append(
            f"No quiet stretch of 0.2 s or more was found; {other}. Record a second or more with "
            "the strings damped before the first pluck."
        )
    if not plucks:
        problems.append("No pluck was found; only the quiet is used.")
    return Take(
        stage=recording.stage,
        voice=recording.voice,
        outputs=each.outputs,
        audio=each.audio,
        quiets=each.quiets,
        plucks=plucks,
        problems=tuple(problems),
        flags=in_order(flags),
    )


def _named(path: Path, root: Path) -> str:
    try:
        return path.relative_to(root).as_posix()
    except ValueError:
        return path.as_posix()
