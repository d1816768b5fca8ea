"""From a two-channel take to the pairs that the blend is measured on."""

from __future__ import annotations

from collections.abc import Mapping

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.results import BlendPair, QuietPair, ReadLater
from tonecompare.takes.model import Audio, Take

#: What is kept of the samples before the onset.
LEAD_S = 0.02


def blend_pairs(take: Take, noise: Mapping[int, Noise]) -> tuple[list[BlendPair], list[QuietPair]]:
    """Return both outputs of each pluck and quiet stretch; nothing for other takes.

    Parameters
    ----------
    take
        One file, cut; its outputs say which channel carries what.
    noise
        Noise by channel, from 1.
    """
    outputs = take.outputs[: take.audio.samples.shape[0]]
    if sorted(outputs) != ["magnetic", "piezo"]:
        return [], []
    rate_hz = take.audio.rate_hz
    magnetic, piezo = outputs.index("magnetic"), outputs.index("piezo")
    pairs = []
    for pluck in take.plucks:
        onset = round(pluck.onset_s * rate_hz)
        first, last = max(0, onset - round(LEAD_S * rate_hz)), round(pluck.end_s * rate_hz)
        if pluck.f0_hz is None or last - onset < 0.1 * rate_hz:
            continue
        pairs.append(
            BlendPair(
                note=pluck.note,
                string=pluck.string,
                f0_hz=pluck.f0_hz,
                magnetic=_cut(take.audio, magnetic, first, last, zero=take.audio.offset[magnetic]),
                piezo=_cut(take.audio, piezo, first, last, zero=take.audio.offset[piezo]),
                onset_index=onset - first,
                rate_hz=rate_hz,
                noise_magnetic=noise.get(magnetic + 1),
                noise_piezo=noise.get(piezo + 1),
                label=f"{take.audio.path.name}, pluck {pluck.number}",
            )
        )
    quiets = []
    for quiet in take.quiets:
        first = round(quiet.start_s * rate_hz)
        last = first + round(quiet.length_s * rate_hz)
        quiets.append(
            QuietPair(
                magnetic=_cut(take.audio, magnetic, first, last),
                piezo=_cut(take.audio, piezo, first, last),
                rate_hz=rate_hz,
            )
        )
    return pairs, quiets


def _cut(audio: Audio, channel: int, first: int, last: int, *, zero: float = 0.0) -> FloatArray:
    return ReadLater.of(lambda: audio.samples[channel, first:last] - zero)
