"""Findings on what else moved: taken out of the differences, or not to be told from the work."""

from __future__ import annotations

from collections.abc import Iterable

from tonecompare.compare.model import Confound
from tonecompare.quantities.words import IN_QUIET
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.cause_words.taken_out_text import taken_out_text
from tonecompare.report.words.finding_words.finding import Finding, by_voice
from tonecompare.report.words.finding_words.tone_words import parts_of
from tonecompare.report.words.numbers import count
from tonecompare.report.words.phrases import sentence, without

#: Differences named that cannot be told from the work; the rest are counted.
_CONFOUNDED_SHOWN = 3


def taken_out(
    rows: Iterable[Difference],
    confounds: Iterable[Confound],
    titles: dict[tuple[str, str], str],
) -> list[Finding]:
    """One finding per comparison: what else moved, whose share is out of all that follows."""
    taken: dict[tuple[str, str, str], set[str]] = {}
    for row in rows:
        key = (row.comparison, row.voice, row.output)
        taken.setdefault(key, set()).update(row.adjusted_for)
    told: dict[str, list[Confound]] = {}
    for one in confounds:
        kinds = [k for key, k in taken.items() if one.found and one.concerns(*key)]
        if any(one.kind in some for some in kinds):
            told.setdefault(one.comparison, []).append(one)
    return [
        Finding("taken-out", comparison, "", taken_out_text(group, titles))
        for comparison, group in told.items()
    ][:2]


def confounded_findings(
    rows: Iterable[Difference],
    confounds: Iterable[Confound],
    titles: dict[tuple[str, str], str],
) -> list[Finding]:
    """One finding per comparison: which differences the work need not explain, and what does."""
    findings = []
    by_comparison: dict[str, list[Difference]] = {}
    for row in rows:
        if row.verdict == "confounded":
            by_comparison.setdefault(row.comparison, []).append(row)
    for comparison, group in by_comparison.items():
        group.sort(key=lambda row: -abs(row.in_thresholds or 0.0))
        told = [
            f"{titles[voice, output]} {part.text}{without(part.lead)}"
            for (_, voice, output), of_voice in by_voice(group).items()
            for part in parts_of(of_voice)
        ]
        shown = told[:_CONFOUNDED_SHOWN]
        rest = len(told) - len(shown)
        more = f" and {count(rest, 'more difference')} in the table" if rest else ""
        why = _explanations(comparison, group, confounds)
        findings.append(
            Finding(
                "confounded",
                comparison,
                "",
                f"{_lead(group)}: {'; '.join(shown)}{more}. {why}".strip(),
                max(row.surely_thresholds for row in group),
                tuple(group),
            )
        )
    findings.sort(key=lambda finding: -finding.score)
    return findings[:2]


def _lead(group: list[Difference]) -> str:
    """Return how confounded differences begin: of hum nobody can say that it is not the work's."""
    if all(row.quantity in IN_QUIET for row in group):
        return "The work or something else, which cannot be told apart"
    return "Not to be put down to the work"


def _explanations(comparison: str, group: list[Difference], confounds: Iterable[Confound]) -> str:
    sentences = [
        cause_text(confound, titled=True)
        for confound in confounds
        if confound.found
        and any(
            confound.concerns(comparison, row.voice, row.output)
            and row.quantity in confound.explains
            for row in group
        )
    ]
    if not sentences:
        sentences = [row.reason for row in group if row.reason]
    return " ".join(sentence(text) for text in list(dict.fromkeys(sentences))[:2])
