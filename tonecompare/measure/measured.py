"""One measured number with all that belongs to it. Every module that measures returns these.

The skeleton of a quantity family is a module of its own, with
``measure_<family>(signal, ...) -> dict[str, Measured]`` whose keys are column names of
``measurements.csv`` or ``quiet.csv``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tonecompare.measure.flags import Flag, unmeasured_flag


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured number.

    ``value`` is None when it could not be measured; ``reason`` then says why. ``uncertainty`` is
    the standard uncertainty (one sigma) in the same unit, None when unknown. ``window_s`` counts
    from the onset (or from the start of the quiet stretch). ``flags`` tell what else is to be known
    of this number alone.
    """

    value: float | None
    unit: str
    uncertainty: float | None = None
    window_s: tuple[float, float] | None = None
    method: str = ""
    reason: str = ""
    flags: tuple[Flag, ...] = ()


def unmeasured(unit: str, reason: str, *, method: str = "") -> Measured:
    """Return a quantity that could not be measured, with the reason."""
    return Measured(None, unit, method=method, reason=reason)


def flags_of(flags: Iterable[Flag], quantities: Mapping[str, Measured]) -> tuple[Flag, ...]:
    """Return flags, each once, then those of the quantities and what is unmeasured and why.

    Quantities that stand next to each other and share a reason are named once, first to last.
    """
    found = [*flags, *(flag for measured in quantities.values() for flag in measured.flags)]
    run: list[str] = []
    reason = ""
    for name, measured in quantities.items():
        here = "" if measured.value is not None else measured.reason
        if here != reason and run:
            found.append(unmeasured_flag(reason, run[0], run[-1]))
        if here != reason:
            run, reason = [], here
        if here:
            run.append(name)
    if run:
        found.append(unmeasured_flag(reason, run[0], run[-1]))
    return tuple(dict.fromkeys(found))
