"""One difference as words: how much, which way, how sure, and what may be said about hearing it.

What may be said follows the published bands (check values, section "Just-noticeable
differences"): a difference inside the threshold is "not expected to be audible", one near it "may
be audible in direct comparison", one well outside it and outside the repeats "likely audible".
Nothing here ever says that a difference was heard: only a passed blind test earns that.
"""

from __future__ import annotations

from tonecompare.language import tr, tr_later, tr_n
from tonecompare.quantities.words import IN_QUIET, QuantityWords, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import bound, difference, magnitude, signed_parts

#: What follows a comparative between two guitars of one model.
THAN_SISTER = tr_later("than its sister")
#: The confound that widens an interval instead of moving a difference.
DRIFT = "drift"
#: Symbol and words of each verdict, in the order of the legend; ``tr`` says the words.
VERDICT_WORDS = {
    "likely-audible": ("●", tr_later("likely audible")),
    "measurable": ("◐", tr_later("measurable")),
    "no-change": ("○", tr_later("no change")),
    "undecided": ("?", tr_later("undecided")),
    "confounded": ("✕", tr_later("confounded")),
}
#: The same where nothing is shown and no hearing threshold is known: that is no verdict.
NOT_SHOWN = ("·", tr_later("not shown"))
#: What may be said about hearing a difference: compared as they stand here, said with ``tr``.
LIKELY = tr_later("likely audible")
MAY_BE = tr_later("may be audible in direct comparison")
NOT_EXPECTED = tr_later("not expected to be audible")
#: What may be said of a change of noise instead: under the notes nobody hears it.
IN_PAUSES = {
    LIKELY: tr_later("likely audible in the pauses, if heard at your volume"),
    MAY_BE: tr_later("may be audible in the pauses, if heard at your volume"),
}
#: All of it, from the surest.
AUDIBILITIES = (LIKELY, IN_PAUSES[LIKELY], MAY_BE, IN_PAUSES[MAY_BE], NOT_EXPECTED, "")
#: Nobody damps the strings more often than this in a recording for a tenth of a decibel.
_MOST_QUIETS = 5


def audibility(row: Difference) -> str:
    """Return what may be said about hearing this difference, empty when nothing may be.

    One of :data:`AUDIBILITIES`, in English whatever is spoken.
    """
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
        said = tr("{noun} not measured", noun=words.noun)
        return f"{said} ({row.reason})" if row.reason else said
    size, ends = magnitude(row.difference, row.ci_low, row.ci_high, row.unit)
    if not any(digit in size for digit in "123456789"):
        said = tr("{noun} the same to the digits shown", noun=words.noun)
    else:
        said = _way(words, row, rises=row.difference > 0).format(size)
    return f"{said} ({ends})" if ends else said


def _way(words: QuantityWords, row: Difference, *, rises: bool) -> str:
    """Return how a rise or fall is said; of two sisters as a comparative, with what it is to.

    Examples: ``{} louder``, ``hum up by {}``, ``hum {} higher than its sister``.
    """
    if not row.sisters:
        return words.up if rises else words.down
    return f"{words.above if rises else words.below} {tr(THAN_SISTER)}"


def same_as(row: Difference) -> str:
    """Return what a quantity without a difference is: unchanged, or the same as the other's."""
    if row.sisters:
        return tr("the same as its sister's")
    return tr("the same") if row.between_voices else tr("unchanged")


def unchanged(row: Difference) -> str:
    """Say what equivalence shows: ``decay unchanged within 6 %``."""
    noun = words_for(row.quantity).noun
    same = same_as(row)
    if row.ci_low is None or row.ci_high is None:
        return f"{noun} {same}"
    within = bound(row.ci_low, row.ci_high, row.unit)
    return tr("{noun} {same} within {within}", noun=noun, same=same, within=within)


def without(row: Difference) -> str:
    """Say the difference with a stage's drift allowed for: ``, with drift allowed for −0.2 dB``."""
    said = _with_drift(row)
    return f", {said}" if said else ""


def _with_drift(row: Difference) -> str:
    if row.adjusted is None:
        return ""
    size = difference(*row.adjusted, row.unit)
    return tr("with drift allowed for {size}", size=size)


def sample(row: Difference) -> str:
    """Say how many repeats (or quiet stretches) stand behind a difference: ``n = 30 and 28``.

    Empty for what is read off a whole recording.
    """
    if row.n_before == row.n_after == 0:
        return ""
    if row.n_before == row.n_after:
        return tr("n = {n} each", n=row.n_before)
    return tr("n = {before} and {after}", before=row.n_before, after=row.n_after)


def not_shown(row: Difference) -> str:
    """Say an undecided difference: ``decay +4 % (−12 to +30; n = 12 each; about 4 more …)``."""
    noun = words_for(row.quantity).noun
    if row.difference is None:
        said = tr("{noun} not measured", noun=noun)
        return f"{said}: {row.reason}" if row.reason else said
    size, interval = signed_parts(row.difference, row.ci_low, row.ci_high, row.unit)
    drift = _with_drift(row) if DRIFT in row.adjusted_for else ""
    facts = [interval, sample(row), drift or _more(row)]
    said = f"{noun} {size}"
    if row.sisters:
        said = tr("{noun} {size} against its sister", noun=noun, size=size)
    return f"{said} ({'; '.join(fact for fact in facts if fact)})"


def _more(row: Difference) -> str:
    """Say what would settle an undecided difference, empty when nothing sensible would."""
    if not row.more_plucks:
        return ""
    if row.quantity in IN_QUIET:
        if row.more_plucks > _MOST_QUIETS:
            return ""
        if row.between_voices:
            return tr_n(
                "about {n} more quiet stretch with each voice would settle it",
                "about {n} more quiet stretches with each voice would settle it",
                row.more_plucks,
            )
        return tr_n(
            "about {n} more quiet stretch in each stage would settle it",
            "about {n} more quiet stretches in each stage would settle it",
            row.more_plucks,
        )
    if row.played:
        return tr_n(
            "about {n} more time played on each side would settle it",
            "about {n} more times played on each side would settle it",
            row.more_plucks,
        )
    return tr_n(
        "about {n} more pluck per note would settle it",
        "about {n} more plucks per note would settle it",
        row.more_plucks,
    )


def sentence(text: str) -> str:
    """Return a text that ends like a sentence."""
    text = text.strip()
    return text if not text or text[-1] in ".!?" else text + "."
