"""Whether the mains frequency that was asked for is the one whose lines stand in the quiet."""

from __future__ import annotations

import re
from collections.abc import Iterable

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import SEPARATOR
from tonecompare.measure.quiet.hiss_floor import Floor
from tonecompare.measure.quiet.mains_frequency import NOMINAL_HZ, find_mains
from tonecompare.measure.quiet.quiet_frames import Frames

_FLAG = re.compile(r"hum-at-(\d+)-hz-not-(\d+)")


def other_family(
    frames: Frames, density: FloatArray, floor: Floor, *, nominal_hz: float
) -> tuple[str, ...]:
    """Return a flag such as ``hum-at-50-hz-not-60`` when the quiet's lines are another family's.

    Parameters
    ----------
    frames, density, floor
        As :func:`tonecompare.measure.quiet.mains_frequency.find_mains` takes them.
    nominal_hz
        50 or 60, as asked for.

    Returns
    -------
    tuple of str
        Empty when the search left free finds the family that was asked for, or none.
    """
    found = find_mains(frames, density, floor, nominal_hz=None)
    if found is None:
        return ()
    stands_hz = min(NOMINAL_HZ, key=lambda nominal: abs(nominal - found.frequency_hz))
    if stands_hz == nominal_hz:
        return ()
    return (f"hum-at-{stands_hz:.0f}-hz-not-{nominal_hz:.0f}",)


def asked_problems(flags: Iterable[object]) -> tuple[str, ...]:
    """Return a sentence for each family asked for in vain that the quiets' flags name.

    Parameters
    ----------
    flags
        The column ``flags`` of a file's rows of ``quiet.csv``.
    """
    found = [
        match.groups()
        for text in flags
        for flag in str(text).split(SEPARATOR)
        if (match := _FLAG.fullmatch(flag))
    ]
    return tuple(
        f"A mains frequency of {asked} Hz was asked for (--mains, or mains_hz in session.toml), "
        f"but the hum's lines stand at {stands} Hz and its multiples: they are not in hum_dbfs and "
        f"buzz_dbfs. Ask for {stands} Hz, or for none, and it is found."
        for stands, asked in dict.fromkeys(found)
    )
