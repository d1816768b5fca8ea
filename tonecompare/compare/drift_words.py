"""How drift is said: what moved and by how much, and how far a stage held still at most."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.compare.causes.repeat_drift import Drift

_NOUNS = {
    "level_dbfs": "level",
    "centroid_hz": "brightness",
    "decay_s": "decay time",
    "cents": "pitch",
    "hum_dbfs": "hum",
}


def held_words(drifts: Sequence[Drift]) -> str:
    """Say how far a voice moved at most: ``0.6 dB in level and 3 % in brightness``."""
    parts = []
    for one in drifts:
        size = max(abs(end) for end in _ends(one))
        parts.append(f"{_number(size, _digits(size))} {_unit(one)} in {_noun(one, drifts)}")
    return _joined(parts)


def moved_words(drifts: Sequence[Drift]) -> str:
    """Say what moved: ``in level by −1.4 dB (−1.8 to −1.0)``."""
    parts = []
    for one in drifts:
        low, high = _ends(one)
        digits = _digits(high - low)
        value = float(one.quantity.from_scale(one.difference))
        parts.append(
            f"in {_noun(one, drifts)} by {_number(value, digits, sign=True)} {_unit(one)} "
            f"({_number(low, digits, sign=True)} to {_number(high, digits, sign=True)})"
        )
    return _joined(parts)


def _noun(one: Drift, drifts: Sequence[Drift]) -> str:
    several = len({each.output for each in drifts}) > 1
    noun = _NOUNS[one.quantity.column]
    return f"{noun} ({one.output})" if several else noun


def _ends(one: Drift) -> tuple[float, float]:
    return (
        float(one.quantity.from_scale(one.difference - one.half)),
        float(one.quantity.from_scale(one.difference + one.half)),
    )


def _unit(one: Drift) -> str:
    return one.quantity.units[0]


def _digits(size: float) -> int:
    return 0 if not np.isfinite(size) or size >= 9.5 else 1 if size >= 0.095 else 2


def _number(value: float, digits: int, *, sign: bool = False) -> str:
    text = f"{value:{'+' if sign else ''}.{digits}f}"
    if not any(mark in text for mark in "123456789"):
        text = text.lstrip("+-")
    return text.replace("-", "\N{MINUS SIGN}")


def _joined(parts: Sequence[str]) -> str:
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
