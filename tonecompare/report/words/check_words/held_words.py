"""Whether a stage held still, in words."""

from __future__ import annotations

from tonecompare.compare.check.check_results import Held
from tonecompare.report.words.cause_words.drift_words import held_words, moved_words


def held_sentence(held: Held) -> str:
    """Say what of a voice moved between its first recording and the one at the end of its stage."""
    still = [one.facts for one in held.drifts if not (one.shown or one.beyond)]
    moved = [one.facts for one in held.drifts if one.shown or one.beyond]
    twice = f"{held.voice}, recorded first and again at the end,"
    parts = []
    if moved:
        parts.append(f"{twice} differs {moved_words(moved)}")
    if still:
        parts.append(f"{'the rest' if moved else twice} moved by at most {held_words(still)}")
    return "; ".join(parts) + "."
