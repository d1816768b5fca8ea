"""How do a guitar's voices compare with each other?

Stage by stage, every sound (one output of one voice) against the loudest, each split against its
whole, neighbours on the selector, magnetic against piezo against blend, which two can hardly be
told apart and which stand farthest apart. Facts only, as recorded.
"""

from tonecompare.compare.side_by_side.sounds import (
    SoundDifference,
    StageVoices,
    VoicePair,
    VoiceSound,
)
from tonecompare.compare.side_by_side.stage_voices import side_by_side, side_by_side_table

__all__ = [
    "SoundDifference",
    "StageVoices",
    "VoicePair",
    "VoiceSound",
    "side_by_side",
    "side_by_side_table",
]
