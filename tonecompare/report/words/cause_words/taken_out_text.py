"""What else moved between two stages and was taken out of the differences: the first thing said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tonecompare.compare.cause_facts import GainFacts, PlaceFacts, StrengthFacts
from tonecompare.compare.model import Confound
from tonecompare.language import tr
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.cause_words.hand_words import signed
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, number


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
    against = causes[0].against if causes else ""
    other = voice_title(against) if against else ""
    if places:
        moved = listed(places)
        parts.append(
            tr("Picked at another place than {other}: {moved}.", other=other, moved=moved)
            if other
            else tr("Picked at another place after: {moved}.", moved=moved)
        )
    if strengths:
        moved = listed(strengths)
        parts.append(
            tr("Played with another strength than {other}: {moved}.", other=other, moved=moved)
            if other
            else tr("Played with another strength after: {moved}.", moved=moved)
        )
    if places or strengths:
        parts.append(tr("What that explains is taken out of the differences."))
    return " ".join(parts)


def _title(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    return titles.get((one.voice, one.output), one.voice) if one.voice else tr("all voices")


def _place(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    facts, moved = one.facts, one.estimate
    if not isinstance(facts, PlaceFacts) or moved is None:
        raise ValueError("a picking place is told by how far it moved")
    share = moved if facts.scatter is None else facts.scatter
    voice = _title(one, titles)
    size = (
        f"{number(abs(share) * facts.length_mm, 0)} mm"
        if facts.length_mm
        else tr("{share} % of the string", share=number(100.0 * abs(share), 1))
    )
    if facts.scatter is not None:
        return tr("{voice} by {size} one way or the other", voice=voice, size=size)
    if moved > 0.0:
        return tr("{voice} by {size} away from the bridge", voice=voice, size=size)
    return tr("{voice} by {size} towards the bridge", voice=voice, size=size)


def _strength(one: Confound, titles: Mapping[tuple[str, str], str]) -> str:
    if one.estimate is None:
        raise ValueError("a picking strength is told by its size")
    return f"{_title(one, titles)} {signed(one.estimate)} dB"
