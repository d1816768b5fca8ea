"""What the takes of a report cannot decide, in one finding."""

from __future__ import annotations

from collections.abc import Iterable

from tonecompare.language import tr, tr_later
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.subjects import leaves_out_zero, says_nothing, subject
from tonecompare.report.words.finding_words.tone_words import CENTROID
from tonecompare.report.words.finding_words.voice_sentences import ASKED_FIRST
from tonecompare.report.words.phrases import not_shown

#: Undecided differences that are told, of all.
_UNDECIDED_SHOWN = 3
#: Follows where an undecided interval leaves out zero.
_ALONE = tr_later(
    "An interval that leaves out zero does not show a change yet: among so many differences chance "
    "makes some like it."
)
_ALONE_BETWEEN = tr_later(
    "An interval that leaves out zero does not show a difference yet: among so many differences "
    "chance makes some like it."
)


def undecided(rows: Iterable[Difference], titles: dict[tuple[str, str], str]) -> list[Finding]:
    """Return one finding for all: what these takes cannot decide, and what would.

    Parameters
    ----------
    rows
        The differences that findings speak of.
    titles
        Title of each voice and output.

    Returns
    -------
    list of Finding
        None where everything is decided.
    """
    rows = list(rows)
    # Where bands say what became of the tone, nobody asks for the centroid.
    toned = {(r.comparison, r.voice, r.output) for r in rows if r.quantity in BAND_SHAPES}
    group = [
        row
        for row in rows
        if row.verdict == "undecided"
        and row.difference is not None
        and not (row.quantity == CENTROID and (row.comparison, row.voice, row.output) in toned)
    ]
    if not group:
        return []
    group.sort(key=lambda r: (says_nothing(r), ASKED_FIRST.get(r.quantity, len(ASKED_FIRST))))
    first = [row for row in group if row.quantity in ASKED_FIRST] or group
    comparisons = {row.comparison for row in group}
    shown = [
        f"{_whose(row, titles, several=len(comparisons) > 1)}, {not_shown(row)}"
        for row in first[:_UNDECIDED_SHOWN]
    ]
    rest = len(group) - len(shown)
    if rest:
        shown.append(tr("{n} more in the table", n=rest))
    between = all(row.side_by_side for row in group)
    lead = (
        tr_later("Undecided, a difference is not shown: {differences}.")
        if between
        else tr_later("Undecided, a change is not shown: {differences}.")
    )
    told = tr(lead, differences="; ".join(shown))
    if any(leaves_out_zero(row) for row in first[:_UNDECIDED_SHOWN]):
        told = f"{told} {tr(_ALONE_BETWEEN if between else _ALONE)}"
    return [
        Finding(
            "undecided",
            comparisons.pop() if len(comparisons) == 1 else "",
            "",
            told,
            0.0,
            tuple(group),
        )
    ]


def _whose(row: Difference, titles: dict[tuple[str, str], str], *, several: bool) -> str:
    """Say whose difference a row is; the stage with it where the report has several."""
    name = subject(row, titles)
    if not several or row.between_voices:
        return name
    return tr("{voice} of {stage}", voice=name, stage=row.after)
