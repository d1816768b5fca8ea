"""``summary.json``: what the report is made from and what it found, for programs."""

from __future__ import annotations

import json
import platform
from collections import Counter
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from tonecompare import __version__
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import VERDICTS
from tonecompare.language import language
from tonecompare.measure.model import Measurements
from tonecompare.quantities.words import HEADLINE
from tonecompare.report.makers import MADE_BY
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.file_remarks import file_remarks
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.reason_words import told_rows
from tonecompare.report.words.report_findings import left_out
from tonecompare.session.model import Session

SCHEMA = 2
_LIBRARIES = ("numpy", "scipy", "pandas", "librosa", "soundfile", "matplotlib", "Jinja2")


def versions() -> dict[str, str]:
    """Versions of the program, of Python and of the libraries that measure and draw."""
    found = {"tonecompare": __version__, "python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def settings(session: Session) -> dict[str, Any]:
    """Return the settings of the session that change numbers."""
    return {
        "mains_hz": session.mains_hz,
        "a4_hz": session.a4_hz,
        "hearing_thresholds": dict(sorted(session.hearing_thresholds.items())),
    }


def verdict_counts(comparisons: Comparisons) -> dict[str, dict[str, int]]:
    """Count verdicts over the headline quantities of each comparison, over all notes."""
    counts: dict[str, Counter[str]] = {}
    for row in told_rows(comparisons):
        if row.quantity in HEADLINE:
            counts.setdefault(row.comparison, Counter())[row.verdict] += 1
    return {
        comparison: {verdict: counter.get(verdict, 0) for verdict in VERDICTS}
        for comparison, counter in counts.items()
    }


def summary_text(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    findings: Sequence[Finding],
) -> str:
    """Return the text of ``summary.json``; the same results give the same text (no date)."""
    return (
        json.dumps(
            {
                "made_by": MADE_BY,
                "schema": SCHEMA,
                "title": session.title,
                "language": language(),
                "versions": versions(),
                "settings": settings(session),
                "inputs": [
                    {
                        "file": record.file,
                        "sha256": record.sha256,
                        "rate_hz": record.rate_hz,
                        "channels": record.channels,
                        "subtype": record.subtype,
                        "length_s": round(record.length_s, 6),
                        "stage": record.stage,
                        "voice": record.voice,
                        "plucks": record.n_plucks,
                        "problems": list(file_remarks(record)),
                    }
                    for record in measurements.files
                ],
                "left_out": [
                    {"file": item.file, "reason": item.reason}
                    for item in left_out(session, measurements)
                ],
                "findings": [
                    {
                        "kind": finding.kind,
                        "comparison": finding.comparison,
                        "voice": finding.voice,
                        "quantities": list(finding.quantities),
                        "text": finding.text,
                    }
                    for finding in findings
                ],
                "verdicts": verdict_counts(comparisons),
                "notes": {
                    name: [note_sentence(note) for note in notes]
                    for name, notes in comparisons.notes.items()
                },
            },
            ensure_ascii=False,
            indent=2,
        )
        + "\n"
    )
