"""The comparisons that a page of many leaves to the tables: a line each, and where the rest is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tonecompare.compare.comparisons import Comparisons
from tonecompare.language import tr
from tonecompare.report.files.summary import verdict_counts

#: Lines of the table.
MOST_LINES = 500


@dataclass(frozen=True)
class OthersView:
    """The section; ``rows`` hold a comparison and how often each verdict is given there."""

    sentences: tuple[str, ...]
    rows: tuple[tuple[str, Mapping[str, int]], ...]


def others_view(
    comparisons: Comparisons, others: Sequence[str], *, shown: int, asked: bool
) -> OthersView:
    """Return the section of what a page does not show in full.

    Parameters
    ----------
    comparisons
        All of the session.
    others
        Names of those that are not shown in full.
    shown
        How many are.
    asked
        Whether somebody chose them.
    """
    counts = verdict_counts(comparisons) if others else {}
    why = (
        tr("This page shows in full what was asked for: {shown} of {all} comparisons.",
           shown=shown, all=shown + len(others))
        if asked
        else tr("This page shows {shown} of {all} comparisons in full: those that the findings are "
                "about, then the first of the session.", shown=shown, all=shown + len(others))
    )  # fmt: skip
    sentences = [
        *([why] if others else []),
        tr(
            "Voices side by side, charts, sounds, quiet, costs and files are those of the stages "
            "shown. Everything was measured, compared and judged together, and the tables below "
            "hold all of it."
        ),
        tr(
            "To see others in full: tonecompare report SESSION --show NAME, the name of a guitar, "
            "a stage or a comparison. Nothing is measured again for that."
        ),
    ]
    if len(others) > MOST_LINES:
        sentences.append(
            tr("The first {n} are listed here; summary.json counts the verdicts of all.",
               n=MOST_LINES)
        )  # fmt: skip
    return OthersView(
        tuple(sentences),
        tuple((name, counts.get(name, {})) for name in others[:MOST_LINES]),
    )
