"""How drift is said: what moved and by how much, and how far a stage held still at most."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.compare.cause_facts import MovedFacts
from tonecompare.language import tr, tr_later
from tonecompare.report.words.numbers import MINUS, decimal_mark, listed, unit_word

_NOUNS = {
    "level_dbfs": tr_later("level"),
    "centroid_hz": tr_later("brightness"),
    "decay_s": tr_later("decay time"),
    "cents": tr_later("pitch"),
    "hum_dbfs": tr_later("hum"),
}


def held_words(drifts: Sequence[MovedFacts]) -> str:
    """Say how far a voice moved at most: ``0.6 dB in level and 3 % in brightness``."""
    parts = []
    for one in drifts:
        size = max(abs(one.low), abs(one.high))
        parts.append(
            tr(
                "{size} {unit} in {noun}",
                size=_number(size, _digits(size)),
                unit=unit_word(one.unit),
                noun=_noun(one, drifts),
            )
        )
    return listed(parts)


def moved_words(drifts: Sequence[MovedFacts]) -> str:
    """Say what moved: ``in level by −1.4 dB (−1.8 to −1.0)``."""
    parts = []
    for one in drifts:
        digits = _digits(one.high - one.low)
        parts.append(
            tr(
                "in {noun} by {size} {unit} ({low} to {high})",
                noun=_noun(one, drifts),
                size=_number(one.moved, digits, sign=True),
                unit=unit_word(one.unit),
                low=_number(one.low, digits, sign=True),
                high=_number(one.high, digits, sign=True),
            )
        )
    return listed(parts)


def _noun(one: MovedFacts, drifts: Sequence[MovedFacts]) -> str:
    several = len({each.output for each in drifts}) > 1
    noun = tr(_NOUNS[one.column])
    return f"{noun} ({tr(one.output)})" if several else noun


def _digits(size: float) -> int:
    return 0 if not np.isfinite(size) or size >= 9.5 else 1 if size >= 0.095 else 2


def _number(value: float, digits: int, *, sign: bool = False) -> str:
    text = f"{value:{'+' if sign else ''}.{digits}f}"
    if not any(mark in text for mark in "123456789"):
        text = text.lstrip("+-")
    return text.replace("-", MINUS).replace(".", decimal_mark())
