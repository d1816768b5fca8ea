"""Which blend of its two outputs a further recording of a voice holds, plucked anew."""

from __future__ import annotations

from tonecompare.compare.model import RecordingOfBlend
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.recorded_blend import ratio_of_other_plucks

#: Output of recordings that hold a blend.
_BLEND = "blend"


def recordings_of_blends(measurements: Measurements) -> tuple[RecordingOfBlend, ...]:
    """Set every recording of a blend against the two-channel voices of its stage.

    Parameters
    ----------
    measurements
        Two-channel results, and powers per third octave of all recordings.

    Returns
    -------
    tuple of RecordingOfBlend
        By two-channel voice, in their order.
    """
    return tuple(
        RecordingOfBlend(stage, voice, other, ratio_of_other_plucks(bands, blend.by_note))
        for (stage, voice), blend in measurements.blends.items()
        for (other_stage, other, output), bands in measurements.bands.items()
        if other_stage == stage and output == _BLEND
    )
