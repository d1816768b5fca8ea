"""Check: are the takes good enough, what to record again, can this stage be taken apart now.

Public names
------------
check_session
    Faults, an answer per stage, what to record again, what the takes can show.
corrections_of
    Rows for ``takes.csv`` from the faults of a stage.
CheckResult, StageAnswer, Fault, Resolved
    What a check returns.

Names load when first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOME = {
    "check_session": "run",
    "corrections_of": "run",
    "CheckResult": "model",
    "StageAnswer": "model",
    "Fault": "model",
    "Resolved": "model",
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
