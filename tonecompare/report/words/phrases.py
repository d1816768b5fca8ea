"""One difference as words: how much, which way, how sure, and what may be said about hearing it.

What may be said follows the published bands (check values, section "Just-noticeable
differences"): a difference inside the threshold is "not expected to be audible", one near it "may
be audible in direct comparison", one well outside it and outside the repeats "likely audible".
Nothing here ever says that a difference was heard: only a passed blind test earns that.
"""

from __future__ import annotations

from tonecompare.quantities.words import IN_QUIET, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import (
    bound,
    count,
    difference,
    magnitude,
    signed_parts,
)

#: What follows a comparative between two guitars of one model.
THAN_SISTER = "than its sister"
#: The confound that widens an interval instead of moving a difference.
DRIFT = "drift"
#: Symbol and words of each verdict, in the order of the legend.
VERDICT_WORDS = {
    "likely-audible": ("●", "likely audible"),
    "measurable": ("◐", "measurable"),
    "no-change": ("○", "no change"),
    "undecided": ("?", "undecided"),
    "confounded": ("✕", "confounded"),
}
#: The same where nothing is shown and no hearing threshold is known: that is no verdict.
NOT_SHOWN = ("·", "not shown")
LIKELY = "likely audible"
MAY_BE = "may be audible in direct comparison"
NOT_EXPECTED = "not expected to be audible"
_IN_PAUSES = "audible in the pauses, if heard at your volume"
#: What may be said of a change of noise instead: under the notes nobody hears it.
IN_PAUSES = {LIKELY: f"likely {_IN_PAUSES}", MAY_BE: f"may be {_IN_PAUSES}"}
#: All of it, from the surest.
AUDIBILITIES = (LIKELY, IN_PAUSES[LIKELY], MAY_BE, IN_PAUSES[MAY_BE], NOT_EXPECTED, "")
#: Nobody damps the strings more often than this in a recording for a tenth of a decibel.
_MOST_QUIETS = 5


def audibility(row: Difference) -> str:
    """Return what may be said about hearing this difference, empty when nothing may be."""
    if row.verdict == "likely-audible":
        return IN_PAUSES[LIKELY] if row.quantity in IN_QUIET else LIKELY
    if row.verdict == "no-change":
        return NOT_EXPECTED
    if row.verdict == "measurable":
        if row.interval_in_thresholds is None:
            return ""
        if row.below_threshold:
            return NOT_EXPECTED
        return IN_PAUSES[MAY_BE] if row.quantity in IN_QUIET else MAY_BE
    return ""


def change(row: Difference) -> str:
    """Say a difference with its interval: ``5.7 dB quieter (5.2 to 6.2)``."""
    words = words_for(row.quantity)
    if row.difference is None:
        return f"{words.noun} not measured" + (f" ({row.reason})" if row.reason else "")
    size, ends = magnitude(row.difference, row.ci_low, row.ci_high, row.unit)
    if not any(digit in size for digit in "123456789"):
        said = f"{words.noun} the same to the digits shown"
    else:
        said = _way(words.up if row.difference > 0 else words.down, row).format(size)
    return f"{said} ({ends})" if ends else said


def _way(template: str, row: Difference) -> str:
    """Return how a rise or fall is said; of two sisters as a comparative, with what it is to.

    Examples of the templates: ``{} louder``, ``hum up by {}``, ``presence {} down``.
    """
    if not row.sisters:
        return template
    for way, comparative in (("up", "higher"), ("down", "lower")):
        template = template.replace(f" {way} by {{}}", f" {{}} {comparative}")
        template = template.replace(f"{{}} {way}", f"{{}} {comparative}")
    return f"{template} {THAN_SISTER}"


def same_as(row: Difference) -> str:
    """Return what a quantity without a difference is: unchanged, or the same as the other's."""
    if row.sisters:
        return "the same as its sister's"
    return "the same" if row.between_voices else "unchanged"


def unchanged(row: Difference) -> str:
    """Say what equivalence shows: ``decay unchanged within 6 %``."""
    noun = words_for(row.quantity).noun
    same = same_as(row)
    if row.ci_low is None or row.ci_high is None:
        return f"{noun} {same}"
    return f"{noun} {same} within {bound(row.ci_low, row.ci_high, row.unit)}"


def without(row: Difference) -> str:
    """Say the difference with a stage's drift allowed for: ``, with drift allowed for −0.2 dB``."""
    if row.adjusted is None:
        return ""
    return f", with drift allowed for {difference(*row.adjusted, row.unit)}"


def sample(row: Difference) -> str:
    """Say how many repeats (or quiet stretches) stand behind a difference: ``n = 30 and 28``."""
    if row.n_before == row.n_after:
        return f"n = {row.n_before} each"
    return f"n = {row.n_before} and {row.n_after}"


def not_shown(row: Difference) -> str:
    """Say an undecided difference: ``decay +4 % (−12 to +30; n = 12 each; about 4 more …)``."""
    noun = words_for(row.quantity).noun
    if row.difference is None:
        why = f": {row.reason}" if row.reason else ""
        return f"{noun} not measured{why}"
    size, interval = signed_parts(row.difference, row.ci_low, row.ci_high, row.unit)
    drift = without(row).removeprefix(", ") if DRIFT in row.adjusted_for else ""
    facts = [interval, sample(row), drift or _more(row)]
    against = " against its sister" if row.sisters else ""
    return f"{noun} {size}{against} ({'; '.join(fact for fact in facts if fact)})"


def _more(row: Difference) -> str:
    """Say what would settle an undecided difference, empty when nothing sensible would."""
    if not row.more_plucks:
        return ""
    if row.quantity in IN_QUIET:
        if row.more_plucks > _MOST_QUIETS:
            return ""
        more = count(row.more_plucks, "more quiet stretch", plural="more quiet stretches")
        where = "with each voice" if row.between_voices else "in each stage"
        return f"about {more} {where} would settle it"
    if row.played:
        return f"about {count(row.more_plucks, 'more time')} played on each side would settle it"
    return f"about {count(row.more_plucks, 'more pluck')} per note would settle it"


def sentence(text: str) -> str:
    """Return a text that ends like a sentence."""
    text = text.strip()
    return text if not text or text[-1] in ".!?" else text + "."
