"""How is it done in a line of Python? Measure, compare, look, draw, save and load.

measure             recordings into tables
compare, report     two stages, or a whole session, into differences, findings and charts
load                what ``save`` of a comparison wrote
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.front.results import ComparedSession, MeasuredFiles
    from tonecompare.front.run import compare, measure, report
    from tonecompare.front.saved import load

_HOME = {
    "ComparedSession": "results",
    "MeasuredFiles": "results",
    "compare": "run",
    "load": "saved",
    "measure": "run",
    "report": "run",
}

__all__ = ["ComparedSession", "MeasuredFiles", "compare", "load", "measure", "report"]

__getattr__, __dir__ = lazily(__name__, _HOME)
