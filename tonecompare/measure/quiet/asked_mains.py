"""Whether the mains frequency that was asked for is the one whose lines stand in the quiet."""

from __future__ import annotations

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import HUM_ELSEWHERE, Flag
from tonecompare.measure.quiet.hiss_floor import Floor
from tonecompare.measure.quiet.mains_frequency import NOMINAL_HZ, find_mains
from tonecompare.measure.quiet.quiet_frames import Frames


def other_family(
    frames: Frames, density: FloatArray, floor: Floor, *, nominal_hz: float
) -> tuple[Flag, ...]:
    """Return a flag (its text ``hum-at-50-hz-not-60``) when the lines are another family's.

    Parameters
    ----------
    frames, density, floor
        As :func:`tonecompare.measure.quiet.mains_frequency.find_mains` takes them.
    nominal_hz
        50 or 60, as asked for.

    Returns
    -------
    tuple of Flag
        Empty when the search left free finds the family that was asked for, or none.
    """
    found = find_mains(frames, density, floor, nominal_hz=None)
    if found is None:
        return ()
    stands_hz = min(NOMINAL_HZ, key=lambda nominal: abs(nominal - found.frequency_hz))
    if stands_hz == nominal_hz:
        return ()
    return (Flag(HUM_ELSEWHERE, (round(stands_hz), round(nominal_hz))),)
