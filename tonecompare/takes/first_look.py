"""Read one file of a recording and look at it: quiet, rises, onsets, what its channels carry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.session.model import Session
from tonecompare.takes.file_faults import clipped_times, usable_channels
from tonecompare.takes.frames import BandFrames, band_frames
from tonecompare.takes.model import Audio, Quiet
from tonecompare.takes.plucks.detect import SAME_PLUCK_S, Rise, band_floor, find_rises
from tonecompare.takes.plucks.onset import Onset, find_onset
from tonecompare.takes.quiet import find_quiets, quiet_floor
from tonecompare.takes.read import read_audio

#: Channels of one pluck start at most this far apart; else one of them was mistaken.
LARGEST_CHANNEL_LAG_S = 0.008


@dataclass(frozen=True)
class Looked:
    """A file read and looked at, before its plucks are cut.

    ``floor`` is the quiet's power per channel and band, or the lowest there is without quiet.
    """

    audio: Audio
    outputs: tuple[str, ...]
    frames: BandFrames
    floor: FloatArray
    #: Per pluck and channel.
    onsets_s: tuple[tuple[float, ...], ...]
    rises: tuple[Rise, ...]
    quiets: tuple[Quiet, ...]
    clipped_s: FloatArray
    #: Standard uncertainties of the onsets (per channel), by the onsets themselves.
    onset_sds_s: Mapping[tuple[float, ...], tuple[float | None, ...]] = field(default_factory=dict)
    #: When fingers or hands sounded on the strings without a pluck.
    touches_s: tuple[float, ...] = ()


def voice_outputs(session: Session, voice: str) -> tuple[str, ...]:
    """Return what a voice's channels carry: as session.toml says, else guessed from its name.

    One entry stands for a mono file. Without session.toml a voice named piezo… carries the piezo,
    blend… the blend, any other the magnetic pickups; two channels are magnetic and piezo.
    """
    told = session.told_voice(voice)
    if told is not None:
        return told.outputs
    lowered = voice.casefold()
    for output in ("piezo", "blend"):
        if lowered.startswith(output):
            return (output,)
    return ("magnetic",)


def _channel_outputs(
    outputs: tuple[str, ...], *, n: int, channels: tuple[int, ...]
) -> tuple[str, ...]:
    """Return the outputs of the channels kept, of a file of n channels.

    Of two channels of which one was left out, the other carries what was said of it; when one
    output was said of the voice, it is that.
    """
    if n == 1:
        return outputs[:1]
    if len(outputs) == 1 and len(channels) == 1:
        return outputs
    pair = outputs if len(outputs) == 2 else ("magnetic", "piezo")
    return tuple(pair[channel] for channel in channels)


def look(path: Path, *, outputs: tuple[str, ...]) -> Looked:
    """Read a file and find its quiet stretches and onsets.

    Raises
    ------
    RecordingError
        When the file cannot be used.
    """
    whole = read_audio(path)
    audio, channels = usable_channels(whole)
    frames = band_frames(
        audio.samples, rate_hz=audio.rate_hz, extremes=audio.extremes, means=audio.offset
    )
    lowest = band_floor(frames)
    found = find_rises(audio.samples, rate_hz=audio.rate_hz, frames=frames, floor=lowest)
    onsets, rises, sds = _placed(audio, found)
    quiets = find_quiets(frames, onsets_s=[min(each) for each in onsets])
    floor = quiet_floor(frames, quiets)
    return Looked(
        audio=audio,
        outputs=_channel_outputs(outputs, n=whole.samples.shape[0], channels=channels),
        frames=frames,
        floor=lowest if floor is None else floor,
        onsets_s=onsets,
        rises=rises,
        quiets=quiets,
        clipped_s=clipped_times(audio),
        onset_sds_s=sds,
    )


def _placed(
    audio: Audio, rises: Sequence[Rise]
) -> tuple[
    tuple[tuple[float, ...], ...],
    tuple[Rise, ...],
    dict[tuple[float, ...], tuple[float | None, ...]],
]:
    """Onsets per rise and channel, and how sure; of rises that are one pluck the first is kept."""
    kept: list[tuple[tuple[float, ...], Rise]] = []
    sds: dict[tuple[float, ...], tuple[float | None, ...]] = {}
    for rise in rises:
        found = _channel_onsets(audio, rise)
        onsets = tuple(onset.time_s for onset in found)
        if not kept or min(onsets) - min(kept[-1][0]) >= SAME_PLUCK_S:
            kept.append((onsets, rise))
            sds[onsets] = tuple(onset.sd_s for onset in found)
    return tuple(onsets for onsets, _ in kept), tuple(rise for _, rise in kept), sds


def _channel_onsets(audio: Audio, rise: Rise) -> list[Onset]:
    onsets = [
        find_onset(channel, rate_hz=audio.rate_hz, near_s=rise.time_s) for channel in audio.samples
    ]
    if len(onsets) == 2 and abs(onsets[1].time_s - onsets[0].time_s) > LARGEST_CHANNEL_LAG_S:
        at = round(rise.time_s * audio.rate_hz)
        part = audio.samples[:, at : at + round(0.05 * audio.rate_hz)]
        onsets = [onsets[int(np.argmax(part.std(axis=1)))]] * 2
    return onsets
