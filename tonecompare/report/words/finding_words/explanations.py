"""What else may have made differences that cannot be told from the work."""

from __future__ import annotations

from collections.abc import Iterable

from tonecompare.compare.cause_facts import MainsFacts, StrengthFacts
from tonecompare.compare.model import Confound
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.phrases import sentence


def explanations(comparison: str, group: list[Difference], confounds: Iterable[Confound]) -> str:
    """Return the sentences of the causes that may explain these rows, two at most."""
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


def strength_left_open(confounds: Iterable[Confound]) -> dict[str, str]:
    """Return by comparison that a riff's loudness may be the hand's, where nothing tells."""
    return {
        one.comparison: sentence(cause_text(one, titled=True))
        for one in confounds
        if isinstance(one.facts, StrengthFacts) and one.facts.alone
    }


def hum_left_open(rows: Iterable[Difference], confounds: Iterable[Confound]) -> dict[str, str]:
    """Return by comparison that the hum's source changed, where no row claims what it explains.

    Another source may hide what the work did to the hum as well as make it: where hum came out much
    the same, nothing of it is claimed and so nothing confounded, and yet it cannot be told.
    """
    told = {(row.comparison, row.quantity) for row in rows if row.verdict == "confounded"}
    return {
        one.comparison: sentence(cause_text(one, titled=True))
        for one in confounds
        if one.found
        and isinstance(one.facts, MainsFacts)
        and not any((one.comparison, quantity) in told for quantity in one.explains)
    }
