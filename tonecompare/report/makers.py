"""What marks ``summary.json`` as ours: of a report, a check, clips, charts, and blind pages."""

from __future__ import annotations

MADE_BY = "tonecompare report"
MADE_BY_CHECK = "tonecompare check"
MADE_BY_CLIPS = "tonecompare clips"
MADE_BY_BLIND = "tonecompare blind"
MADE_BY_CHARTS = "tonecompare charts"
