"""What changed? From measurements to differences, intervals and verdicts.

Public names
------------
compare_session
    Every comparison of a session: :class:`Comparisons`.
Comparisons
    What comparing returns.
find_worth
    What each step of work cost and how far it moved the sound.

Names load when first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from tonecompare.lazy import lazily

_HOME = {
    "compare_session": "run",
    "Comparisons": "comparisons",
    "find_worth": "worth.work_steps",
}

__all__ = sorted(_HOME)

__getattr__, __dir__ = lazily(__name__, _HOME)
