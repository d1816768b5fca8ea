"""Compare: from measurements to differences, intervals and verdicts.

Public names
------------
compare_session
    Every comparison of a session: :class:`Comparisons`.
Comparisons, Confound, Response, Equaliser, EqualiserBand
    What comparing returns.
QUANTITIES, quantity_of
    What is compared, in which words and units.
find_worth, Step
    What each step of work cost and how far it moved the sound.
bench_signs, BenchSign
    What single stages show at the bench.
THRESHOLDS, threshold_of, wording
    Hearing thresholds with their sources.

Names load when first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOME = {
    "compare_session": "run",
    "Comparisons": "model",
    "Confound": "model",
    "Response": "model",
    "Equaliser": "model",
    "EqualiserBand": "model",
    "VERDICTS": "model",
    "QUANTITIES": "quantities",
    "quantity_of": "quantities",
    "BenchSign": "bench",
    "bench_signs": "bench",
    "Step": "worth",
    "find_worth": "worth",
    "THRESHOLDS": "thresholds",
    "threshold_of": "thresholds",
    "wording": "thresholds",
}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    """Load a public name from its module when it is first asked for."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(_HOME))
