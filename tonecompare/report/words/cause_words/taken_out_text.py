"""What else moved between two stages and was taken out of the differences: the first thing said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tonecompare.compare.cause_facts import GainFacts, PlaceFacts, StrengthFacts
from tonecompare.compare.model import Confound
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.cause_words.hand_words import than
from tonecompare.report.words.numbers import MINUS, listed


def taken_out_text(causes: Sequence[Confound], titles: Mapping[tuple[str, str], str]) -> str:
    """Return one paragraph for what was taken out in one comparison.

    Parameters
    ----------
    causes
        Those found whose share was taken out: gain, picking place, picking strength.
    titles
        Titles of voices by (voice, output).

    Examples
    --------
    >>> place = Confound(
    ...     "stock to rewound", "neck", "pick-position", True, 0.02, "", 0.015, 0.025, 0.001, (),
    ...     PlaceFacts(None, 650.0), "magnetic",
    ... )
    >>> taken_out_text([place], {("neck", "magnetic"): "Neck"})
    'Picked at another place after: Neck by 13 mm away from the bridge. What that explains is \
taken out of the differences.'
    """
    parts = [cause_text(one) for one in causes if isinstance(one.facts, GainFacts)]
    places = [_place(one, titles) for one in causes if isinstance(one.facts, PlaceFacts)]
    strengths = [
        _strength(one, titles)
        for one in causes
        if isinstance(one.facts, StrengthFacts) and one.facts.by_glide
    ]
    if places:
        parts.append(f"Picked at another place {than(causes[0])}: {listed(places)}.")
    if strengths:
        parts.append(f"Played with another strength {than(causes[0])}: {listed(strengths)}.")
    if places or strengths:
        parts.append("What that explains is taken out of the differences.")
    return " ".join(parts)


def _title(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    return titles.get((one.voice, one.output), one.voice) if one.voice else "all voices"


def _place(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    facts, moved = one.facts, one.estimate
    if not isinstance(facts, PlaceFacts) or moved is None:
        raise ValueError("a picking place is told by how far it moved")
    share = moved if facts.scatter is None else facts.scatter
    size = f"{100.0 * abs(share):.1f} % of the string"
    if facts.length_mm:
        size = f"{abs(share) * facts.length_mm:.0f} mm"
    if facts.scatter is not None:
        return f"{_title(one, titles)} by {size} one way or the other"
    return f"{_title(one, titles)} by {size} {'away from' if moved > 0.0 else 'towards'} the bridge"


def _strength(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    if one.estimate is None:
        raise ValueError("a picking strength is told by its size")
    sign = "+" if one.estimate > 0.0 else MINUS
    return f"{_title(one, titles)} {sign}{abs(one.estimate):.1f} dB"
