"""What is said of one fault, and how times are written in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tonecompare.report.words.numbers import listed

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
    texts = [f"{t:.1f}" for t in distinct[:_SHOWN]]
    if len(distinct) > _SHOWN:
        return f"at {', '.join(texts)} s and {len(distinct) - _SHOWN} more times"
    return f"at {listed(texts)} s"
