"""What the takes of a report cannot decide, in one finding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tonecompare.language import tr, tr_later
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.subjects import leaves_out_zero, says_nothing, subject
from tonecompare.report.words.finding_words.tone_words import CENTROID
from tonecompare.report.words.finding_words.voice_sentences import ASKED_FIRST
from tonecompare.report.words.numbers import listed
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
    first = [row for row in first if not says_nothing(row)] or first
    comparisons = {row.comparison for row in group}
    alike = _alike(first)
    shown = [
        f"{_whose(rows, titles, several=len(comparisons) > 1)}, {text}"
        for (_, text), rows in alike.items()
    ]
    told_of = [row for rows in alike.values() for row in rows]
    rest = len(group) - len(told_of)
    if rest:
        shown.append(tr("{n} more in the table", n=rest))
    between = all(row.side_by_side for row in group)
    lead = (
        tr_later("Undecided, a difference is not shown: {differences}.")
        if between
        else tr_later("Undecided, a change is not shown: {differences}.")
    )
    told = tr(lead, differences="; ".join(shown))
    if any(leaves_out_zero(row) for row in told_of):
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


def _alike(rows: Sequence[Difference]) -> dict[tuple[str, str], list[Difference]]:
    """Return the first rows by comparison and what is said of them, as many texts as are told."""
    found: dict[tuple[str, str], list[Difference]] = {}
    for row in rows:
        key = (row.comparison, not_shown(row))
        if key not in found and len(found) == _UNDECIDED_SHOWN:
            break
        found.setdefault(key, []).append(row)
    return found


def _whose(rows: Sequence[Difference], titles: dict[tuple[str, str], str], *, several: bool) -> str:
    """Say whose differences some rows are; the stage with it where the report has several."""
    name = listed([subject(row, titles) for row in rows])
    if not several or rows[0].between_voices:
        return name
    return tr("{voice} of {stage}", voice=name, stage=rows[0].after)
