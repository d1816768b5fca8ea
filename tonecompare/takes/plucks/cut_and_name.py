"""Cut and name the plucks of a file that was looked at, with the quiet of the whole recording."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.takes.first_look import Looked
from tonecompare.takes.judge_plucks import Found
from tonecompare.takes.plucks.chord_names import chord_name
from tonecompare.takes.plucks.chord_notes import STRUCK_WITHIN_S, sounding_notes
from tonecompare.takes.plucks.cut import find_end
from tonecompare.takes.plucks.detect import Rise
from tonecompare.takes.plucks.moving_pitch import keeps_moving
from tonecompare.takes.plucks.note_of_pluck import (
    RINGING_GAP_S,
    KnownSound,
    Pitch,
    find_pitch,
    nearest_note,
)

#: A steep rise this long after the onset is a second attack.
SECOND_ATTACK_AFTER_S = 0.03
#: Sample rate -> band floor and samples of a quiet stretch.
PooledQuiet = Mapping[float, tuple[FloatArray, FloatArray]]


def pooled_quiet(looked: Sequence[Looked]) -> PooledQuiet:
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


def find_plucks(each: Looked, *, pooled: PooledQuiet, a4_hz: float) -> list[Found]:
    """Cut and name every pluck of a file.

    Parameters
    ----------
    each
        The file.
    pooled
        What :func:`pooled_quiet` found; stands in where the file has no quiet of its own.
    a4_hz
        Tuning reference.

    Returns
    -------
    list of Found
        In order of time.
    """
    floor, quiet = each.floor, None
    if each.audio.rate_hz in pooled:
        pooled_floor, quiet = pooled[each.audio.rate_hz]
        if quiet.shape[0] != each.audio.samples.shape[0]:
            quiet = None
        elif not each.quiets:
            floor = pooled_floor
    known = None if quiet is None else KnownSound(quiet)
    starts = [min(onset) for onset in each.onsets_s]
    found: list[Found] = []
    for i, (onsets, rise) in enumerate(zip(each.onsets_s, each.rises, strict=True)):
        following = starts[i + 1] if i + 1 < len(starts) else None
        end = find_end(each.frames, floor, onset_s=starts[i], next_onset_s=following)
        before = found[-1] if found else None
        pitch, chord = _pitch_or_chord(each, rise, before, (starts[i], end.end_s), known, a4_hz)
        found.append(
            Found(
                channel_onset_s=onsets,
                channel_onset_sd_s=each.onset_sds_s.get(onsets, ()),
                end_s=end.end_s,
                ended_by=end.ended_by,
                level_db=rise.level_db,
                fall_db=rise.fall_db,
                over_ringing=_rings_on(before),
                pitch=pitch,
                note=_name(pitch, chord, a4_hz=a4_hz),
                chord=chord,
                flags=(
                    *end.flags,
                    *_file_start_flag(each, starts[i]),
                    *_double_flag(rise, starts[i]),
                ),
            )
        )
    return _strums(found)


def _rings_on(before: Found | None) -> bool:
    return before is not None and "replucked" in before.flags


def _pitch_or_chord(
    each: Looked,
    rise: Rise,
    before: Found | None,
    extent_s: tuple[float, float],
    quiet: KnownSound | None,
    a4_hz: float,
) -> tuple[Pitch | None, tuple[int, ...]]:
    """Pitch of one event, and the notes of a chord; no pitch where it does not stay."""
    samples, rate_hz = each.audio.samples, each.audio.rate_hz
    onset_s, end_s = extent_s
    pitch = find_pitch(
        samples,
        rate_hz=rate_hz,
        onset_s=onset_s,
        end_s=end_s,
        quiet=quiet,
        ringing_since_s=min(before.channel_onset_s) if before and _rings_on(before) else None,
        same_string=rise.sound.same_string if rise.sound else None,
        before_hz=before.pitch.f0_hz if before and before.pitch else None,
    )
    if pitch and pitch.alone:
        chord: tuple[int, ...] = ()
    else:
        chord = _chord(each, before, onset_s, end_s, quiet, a4_hz)
    if pitch and not chord:
        where = {"rate_hz": rate_hz, "onset_s": onset_s, "end_s": end_s}
        if keeps_moving(pitch, samples, **where):
            pitch = None
    return pitch, chord


def _strums(found: list[Found]) -> list[Found]:
    """Make one event of a strum whose first strings were taken for a pluck of their own."""
    joined: list[Found] = []
    for each in found:
        last = joined[-1] if joined else None
        if (
            last is not None
            and each.chord
            and min(each.channel_onset_s) - min(last.channel_onset_s) < STRUCK_WITHIN_S
        ):
            joined[-1] = replace(
                each,
                channel_onset_s=last.channel_onset_s,
                channel_onset_sd_s=last.channel_onset_sd_s,
                level_db=max(each.level_db, last.level_db),
                over_ringing=last.over_ringing,
            )
        else:
            joined.append(each)
    return joined


def _chord(
    each: Looked,
    before: Found | None,
    onset_s: float,
    end_s: float,
    quiet: KnownSound | None,
    a4_hz: float,
) -> tuple[int, ...]:
    """Return the notes that were struck together, () when it is one string."""
    rate_hz = each.audio.rate_hz
    ringing = None
    if before is not None and _rings_on(before):
        first, last = (
            round(at_s * rate_hz) for at_s in (min(before.channel_onset_s), onset_s - RINGING_GAP_S)
        )
        ringing = each.audio.samples[:, first:last]
    notes = sounding_notes(
        each.audio.samples,
        rate_hz=rate_hz,
        onset_s=onset_s,
        end_s=end_s,
        quiet=None if quiet is None else quiet.samples,
        ringing=ringing,
        a4_hz=a4_hz,
    )
    return notes if len(notes) > 1 else ()


def _name(pitch: Pitch | None, chord: tuple[int, ...], *, a4_hz: float) -> str:
    if chord:
        return chord_name(chord)
    return nearest_note(pitch.f0_hz, a4_hz=a4_hz) if pitch else ""


def _double_flag(rise: Rise, onset_s: float) -> tuple[str, ...]:
    """Whether the string was attacked again after it was let go.

    A first rise is often the pick's push, and the second the release the onset stands at.
    """
    again = rise.second_s is not None and rise.second_s > onset_s + SECOND_ATTACK_AFTER_S
    return ("double-attack",) if again else ()


def without(each: Looked, noise: Sequence[Found]) -> Looked:
    """Return the file without the rises that turned out to be no plucks."""
    gone = {found.channel_onset_s for found in noise}
    kept = [i for i, onsets in enumerate(each.onsets_s) if onsets not in gone]
    return replace(
        each,
        onsets_s=tuple(each.onsets_s[i] for i in kept),
        rises=tuple(each.rises[i] for i in kept),
    )


def _file_start_flag(each: Looked, onset_s: float) -> tuple[str, ...]:
    """Whether a note that begins with the file has its attack.

    With the attack it is bright at first: above 1 kHz at least 6 dB over what it is 0.15 s later,
    or 2 dB when the file also begins at zero.
    """
    if onset_s > 0.0:
        return ()
    frames = each.frames
    start, later = frames.frames_of(0.03), frames.frames_of(0.15)
    bands = np.flatnonzero(frames.edges_hz[:-1] >= 1000.0)
    high = frames.power[:, bands, : later + start].sum(axis=1)
    attack, rest = high[:, 1:start].mean(axis=1), high[:, later : later + start].mean(axis=1)
    head = np.abs(each.audio.samples[:, : round(0.03 * each.audio.rate_hz)])
    from_zero = head[:, 0] < 0.03 * head.max(axis=1)
    has_attack = (attack > 4.0 * rest) | (from_zero & (attack > 1.6 * rest))
    return ("trimmed",) if has_attack.any() else ("starts-inside",)
