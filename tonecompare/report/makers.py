"""What marks ``summary.json`` as ours: that of a report, a check, clips, charts."""

from __future__ import annotations

MADE_BY = "tonecompare report"
MADE_BY_CHECK = "tonecompare check"
MADE_BY_CLIPS = "tonecompare clips"
MADE_BY_CHARTS = "tonecompare charts"
