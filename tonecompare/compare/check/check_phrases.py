"""How check writes times, levels and lists inside its sentences."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

#: Times named in one sentence; the rest are counted.
_SHOWN = 5


def at_times(times_s: Iterable[float]) -> str:
    """Write ``at 1.2 s`` or ``at 1.2, 3.4 and 5.0 s``; more than five are cut short."""
    distinct = sorted({round(float(t), 1) for t in times_s})
    texts = [f"{t:.1f}" for t in distinct[:_SHOWN]]
    if len(distinct) > _SHOWN:
        return f"at {', '.join(texts)} s and {len(distinct) - _SHOWN} more times"
    return f"at {joined(texts)} s"


def joined(items: Sequence[str]) -> str:
    """Write ``a``, ``a and b``, ``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def signed(value: float, decimals: int = 1) -> str:
    """Write a number with its sign, a true minus."""
    return f"{value:+.{decimals}f}".replace("-", "\N{MINUS SIGN}")


def plain(value: float, decimals: int = 1) -> str:
    """Write a number with a true minus."""
    return f"{value:.{decimals}f}".replace("-", "\N{MINUS SIGN}")


def decibels(ratio: float) -> float:
    """Return 20 lg of an amplitude, -inf for nothing."""
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def plucks_word(n: int) -> str:
    """Write ``1 pluck``, ``3 plucks``."""
    return "1 pluck" if n == 1 else f"{n} plucks"
