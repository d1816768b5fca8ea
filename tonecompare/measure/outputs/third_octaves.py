"""Power per third octave of every output, note by note: what a blend is held against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.band_powers import output_bands
from tonecompare.measure.outputs.results import BlendPair
from tonecompare.takes.model import Take

#: By output ("magnetic", "piezo", "blend") and note: mean square per band of each pluck.
PluckBands = dict[str, dict[str, list[FloatArray]]]


def take_bands(take: Take, noise: Mapping[int, Noise]) -> PluckBands:
    """Return the third octaves of each pluck of a take over 0.05–1.05 s, the quiet subtracted.

    Parameters
    ----------
    take
        One file, cut.
    noise
        Noise by channel, from 1.

    Returns
    -------
    dict
        By output and note: one (B,) array a pluck, in (sample value)², bands of
        :data:`tonecompare.measure.outputs.band_powers.BAND_HZ`, NaN where not above the quiet.
    """
    found: PluckBands = {}
    rate_hz = take.audio.rate_hz
    for channel, samples in enumerate(take.audio.samples):
        if channel >= len(take.outputs):
            break
        of_channel = noise.get(channel + 1)
        for pluck in take.plucks:
            if pluck.f0_hz is None or not pluck.note:
                continue
            first, last = round(pluck.onset_s * rate_hz), round(pluck.end_s * rate_hz)
            cut = samples[first:last] - take.audio.offset[channel]
            alone = BlendPair(pluck.note, pluck.string, pluck.f0_hz, cut, cut, 0, rate_hz)
            power = output_bands(cut, of_channel, alone)
            if power is not None:
                of_output = found.setdefault(take.outputs[channel], {})
                of_output.setdefault(pluck.note, []).append(power)
    return found


def mean_by_note(plucks: Mapping[str, Sequence[FloatArray]]) -> dict[str, FloatArray]:
    """Mean power over the plucks of each note; NaN where no pluck stands above the quiet."""
    means = {}
    for note, powers in plucks.items():
        values = np.array(powers)
        known = np.isfinite(values)
        total = np.where(known, values, 0.0).sum(axis=0)
        count = known.sum(axis=0)
        means[note] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return means
