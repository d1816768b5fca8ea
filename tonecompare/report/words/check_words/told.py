"""What is said of one fault, and how times are written in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tonecompare.language import tr, tr_as
from tonecompare.report.words.numbers import number

#: Times named in one sentence; the rest are counted.
_SHOWN = 5


@dataclass(frozen=True)
class Told:
    """One fault in words: what is wrong, why it matters, what to do."""

    what: str
    why: str
    remedy: str


def at_times(times_s: Iterable[float]) -> str:
    """Write ``at 1.2 s`` or ``at 1.2, 3.4 and 5.0 s``; more than five are cut short."""
    distinct = sorted({round(float(t), 1) for t in times_s})
    texts = [number(t, 1) for t in distinct[:_SHOWN]]
    between = tr_as("between numbers", ", ")
    if len(distinct) > _SHOWN:
        rest = len(distinct) - _SHOWN
        return tr("at {times} s and {n} more times", times=between.join(texts), n=rest)
    if len(texts) < 2:
        return tr("at {time} s", time="".join(texts))
    return tr("at {times} and {last} s", times=between.join(texts[:-1]), last=texts[-1])


def seconds(time_s: float | None, decimals: int = 1) -> str:
    """Write when a fault is, one that has a time."""
    if time_s is None:
        raise ValueError("a fault that is told by its time has one")
    return number(time_s, decimals)
