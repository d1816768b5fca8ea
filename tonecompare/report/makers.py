"""What marks ``summary.json`` as ours: that of a report, that of a check."""

from __future__ import annotations

MADE_BY = "tonecompare report"
MADE_BY_CHECK = "tonecompare check"
