"""Of what a finding speaks: a voice, or one voice against another, and where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tonecompare.language import tr
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.names import comparison_title, side_title, voice_title
from tonecompare.session.model import ComparedSide

#: An interval that spans more hearing thresholds than this says nothing.
_TELLS_NOTHING = 20.0


def subject(row: Difference, titles: Mapping[tuple[str, str], str]) -> str:
    """Return whose difference a row is: "Bridge (split)", "Bridge (split) against Bridge"."""
    title = titles[row.voice, row.output]
    if not row.between_voices:
        return title
    other = voice_title(ComparedSide.named(row.before).voice or row.before)
    return tr("{one} against {other}", one=title, other=other)


def places(rows: Sequence[Difference]) -> dict[str, tuple[str, str]]:
    """Return how each comparison is named before what is said of it, and before a voice's sentence.

    A sentence that starts with "Bridge (split) against Bridge" has no need of the comparison's
    name; where the report has further stages, the stage is named.
    """
    sides = {row.comparison: (row.before, row.after) for row in rows}
    stages = {ComparedSide.named(name).stage for pair in sides.values() for name in pair}
    found = {}
    for name, (before, after) in sides.items():
        one, other = ComparedSide.named(before), ComparedSide.named(after)
        if one.voice == other.voice:
            found[name] = (comparison_title(before, after),) * 2
        elif one.stage == other.stage:
            found[name] = (side_title(before, after), one.stage if len(stages) > 1 else "")
        else:
            found[name] = (side_title(before, after),) * 2
    return found


def says_nothing(row: Difference) -> bool:
    """Whether an interval spans so many hearing thresholds that its figures tell a reader nothing.

    The table has them; the findings speak of the others first.
    """
    if row.ci_low is None or row.ci_high is None or not row.hearing_threshold:
        return False
    return row.ci_high - row.ci_low > _TELLS_NOTHING * row.hearing_threshold


def leaves_out_zero(row: Difference) -> bool:
    """Whether an interval leaves out zero."""
    if row.ci_low is None or row.ci_high is None:
        return False
    return row.ci_low > 0.0 or row.ci_high < 0.0


def confounded_lead(group: list[Difference]) -> str:
    """Return how confounded differences begin: what has a known share was taken out before."""
    if group[0].sisters:
        return tr("The work, the guitar itself and something else cannot be told apart.")
    if group[0].between_voices:
        return tr("The voice and something else cannot be told apart.")
    return tr("The work and something else cannot be told apart.")


def one_of_hum(rows: list[Difference]) -> list[Difference]:
    """Leave out what says the same as the hum: signal to hum, and buzz that moved as it did."""
    hum = next((row for row in rows if row.quantity == "hum_dbfs"), None)
    if hum is None:
        return rows
    return [
        row
        for row in rows
        if row.quantity != "signal_to_hum_db"
        and not (row.quantity == "buzz_dbfs" and _share_a_value(row, hum))
    ]


def _share_a_value(one: Difference, other: Difference) -> bool:
    """Whether the intervals of two differences overlap, as far as both are known."""
    if one.ci_low is None or one.ci_high is None or other.ci_low is None or other.ci_high is None:
        return True
    return one.ci_low <= other.ci_high and other.ci_low <= one.ci_high
