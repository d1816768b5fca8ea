"""Are the takes good enough, what to record again, can this stage be taken apart now?

Public names
------------
check_session
    Faults, an answer per stage, what to record again, what the takes can show.
corrections_of
    Rows for ``takes.csv`` from the faults of a stage.

Names load when first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from tonecompare.lazy import lazily

_HOME = {
    "check_session": "stage_answers",
    "corrections_of": "stage_answers",
}

__all__ = sorted(_HOME)

__getattr__, __dir__ = lazily(__name__, _HOME)
