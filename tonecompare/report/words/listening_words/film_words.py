"""The words a film ends a scene with."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.language import tr, tr_later
from tonecompare.report.words.finding_words.finding import Finding

_OF_VOICE = ("change", "no-change", "confounded", "undecided")
NOTHING_SAID = tr_later(
    "No difference of this voice was shown. That is not the same as none: see the report."
)


def scene_words(findings: Sequence[Finding], comparison: str, voice: str) -> str:
    """Return the report's own finding on a voice, or that there is none."""
    return next(
        (
            one.text
            for own in (True, False)
            for one in findings
            if one.kind in _OF_VOICE and one.speaks_of(comparison, voice, own=own)
        ),
        tr(NOTHING_SAID),
    )
