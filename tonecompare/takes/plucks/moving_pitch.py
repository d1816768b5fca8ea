"""Tell a sweep or a siren from a string: its pitch moves on and on while it sounds."""

from __future__ import annotations

from tonecompare.arrays import FloatArray
from tonecompare.takes.plucks.note_of_pluck import Pitch, find_pitch
from tonecompare.units import ratio_to_cents

#: From third to third the pitch of no plucked string moves by a semitone both times: a glide after
#: a hard pluck is done within the first, a bend arrives.
LEAST_STEP_CENTS = 100.0
#: Looked at from the onset, at most and at least.
LONGEST_S, SHORTEST_S = 1.5, 0.3


def keeps_moving(
    pitch: Pitch, samples: FloatArray, *, rate_hz: float, onset_s: float, end_s: float
) -> bool:
    """Whether a pluck's pitch rises, or falls, by a semitone from each third of it to the next.

    Parameters
    ----------
    pitch
        Its pitch on the whole; one whose partials explain the sound does not move.
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    onset_s, end_s
        The pluck's extent.
    """
    length_s = min(end_s - onset_s, LONGEST_S)
    if pitch.alone or length_s < SHORTEST_S:
        return False
    thirds = [
        find_pitch(
            samples,
            rate_hz=rate_hz,
            onset_s=onset_s + part * length_s / 3.0,
            end_s=onset_s + (part + 1) * length_s / 3.0,
        )
        for part in range(3)
    ]
    found = [third.f0_hz for third in thirds if third is not None]
    if len(found) < len(thirds):
        return False
    steps = [float(ratio_to_cents(found[i + 1] / found[i])) for i in (0, 1)]
    return min(steps) > LEAST_STEP_CENTS or max(steps) < -LEAST_STEP_CENTS
