"""Whether a stage held still, in words."""

from __future__ import annotations

from tonecompare.compare.check.check_results import Held
from tonecompare.language import tr
from tonecompare.report.words.cause_words.drift_words import held_words, moved_words


def held_sentence(held: Held) -> str:
    """Say what of a voice moved between its first recording and the one at the end of its stage."""
    still = [one.facts for one in held.drifts if not (one.shown or one.beyond)]
    moved = [one.facts for one in held.drifts if one.shown or one.beyond]
    if moved and still:
        return tr(
            "{voice}, recorded first and again at the end, differs {moved}; the rest moved by at "
            "most {held}.",
            voice=held.voice,
            moved=moved_words(moved),
            held=held_words(still),
        )
    if moved:
        return tr(
            "{voice}, recorded first and again at the end, differs {moved}.",
            voice=held.voice,
            moved=moved_words(moved),
        )
    return tr(
        "{voice}, recorded first and again at the end, moved by at most {held}.",
        voice=held.voice,
        held=held_words(still),
    )
