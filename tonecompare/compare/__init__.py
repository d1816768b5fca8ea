"""What changed? From measurements to differences, intervals and verdicts.

Public names
------------
compare_session
    Every comparison of a session: :class:`Comparisons`.
Comparisons, Confound, Response, Equaliser, EqualiserBand
    What comparing returns.
find_worth, Step
    What each step of work cost and how far it moved the sound.
bench_signs, BenchSign
    What single stages show at the bench.
THRESHOLDS, threshold_of
    Hearing thresholds with their sources.

Names load when first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from tonecompare.lazy import lazily

_HOME = {
    "compare_session": "run",
    "Comparisons": "comparisons",
    "Confound": "model",
    "Response": "model",
    "Equaliser": "model",
    "EqualiserBand": "model",
    "VERDICTS": "model",
    "BenchSign": "bench.signs",
    "bench_signs": "bench.signs",
    "Step": "worth.work_steps",
    "find_worth": "worth.work_steps",
    "THRESHOLDS": "thresholds",
    "threshold_of": "thresholds",
}

__all__ = sorted(_HOME)

__getattr__, __dir__ = lazily(__name__, _HOME)
