"""What is said of the hand: picked elsewhere, picked harder or softer."""

from __future__ import annotations

from tonecompare.compare.cause_facts import PlaceFacts, StrengthFacts, UntoldPlaceFacts
from tonecompare.compare.model import Confound
from tonecompare.language import tr, tr_later
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, number

#: How it was picked, by whether harder and whether than another voice.
_PICKED = {
    (True, True): tr_later(
        "{voice} was picked harder than {other}, by {size} dB ({low} to {high})"
    ),
    (True, False): tr_later("{voice} was picked harder after, by {size} dB ({low} to {high})"),
    (False, True): tr_later(
        "{voice} was picked softer than {other}, by {size} dB ({low} to {high})"
    ),
    (False, False): tr_later("{voice} was picked softer after, by {size} dB ({low} to {high})"),
}


def signed(value: float | None, decimals: int = 1) -> str:
    """Return a number with its sign, the minus a real one."""
    if value is None:
        raise ValueError("a cause that is told by its size has none")
    return number(value, decimals, signed=True)


def place_text(confound: Confound, facts: PlaceFacts, voice: str) -> str:
    """Return what is said of the picking place; ``voice`` starts the text."""
    mean, low, high = confound.estimate, confound.ci_low, confound.ci_high
    if mean is None or low is None or high is None:
        raise ValueError("a picking place is told by how far it moved")
    if not confound.found:
        widest = max(abs(low), abs(high))
        if not widest < float("inf"):
            return tr(
                "{voice}: the takes do not tell whether the picking place moved.", voice=voice
            )
        return _same_place(confound, voice, _size(widest, facts.length_mm), mean)
    moved = _moved_by(facts, mean)
    picked = (
        tr(
            "{voice} was picked at another place than {other}: {moved}.",
            voice=voice,
            other=voice_title(confound.against),
            moved=moved,
        )
        if confound.against
        else tr("{voice} was picked at another place after: {moved}.", voice=voice, moved=moved)
    )
    so = tr(
        "That alone changes partials, brightness, level and the mix that dies away; where it can "
        "be worked out, it is taken out of the differences."
    )
    return f"{picked} {so}"


def untold_place_text(_: Confound, facts: UntoldPlaceFacts, voice: str) -> str:
    """Return what is said where only other voices tell that the pick moved."""
    return tr(
        "{voice}: the takes do not tell where it was picked, but the picking place moved for "
        "{others}. What another place changes is not put down to the work here.",
        voice=voice,
        others=listed([voice_title(name) for name in facts.moved]),
    )


def _same_place(confound: Confound, voice: str, size: str, mean: float) -> str:
    share = signed(100.0 * mean)
    if confound.against:
        return tr(
            "{voice} was picked at the same place as {other} to within {size} on average ({share} "
            "% of the string).",
            voice=voice,
            other=voice_title(confound.against),
            size=size,
            share=share,
        )
    return tr(
        "{voice} was picked at the same place in both stages to within {size} on average ({share} "
        "% of the string).",
        voice=voice,
        size=size,
        share=share,
    )


def _moved_by(facts: PlaceFacts, mean: float) -> str:
    if facts.scatter is not None:
        return tr(
            "{size} one way or the other, differently from note to note",
            size=_size(facts.scatter, facts.length_mm),
        )
    size = _size(abs(mean), facts.length_mm)
    if mean > 0.0:
        return tr("{size} away from the bridge", size=size)
    return tr("{size} towards the bridge", size=size)


def _size(share: float, length_mm: float | None) -> str:
    if length_mm:
        return tr("{size} mm (open string)", size=number(share * length_mm, 0))
    return tr("{share} % of the string's length", share=number(100.0 * share, 1))


def strength_text(confound: Confound, facts: StrengthFacts, voice: str) -> str:
    """Return what is said of the strength of picking; ``voice`` starts the text."""
    if facts.by_glide and facts.glide_cents is not None:
        return _by_glide(confound, facts.glide_cents, voice)
    if facts.alone:
        return _of_one_voice(facts, voice)
    why = _no_glide(facts)
    if not confound.found:
        return tr(
            "No sign of another pick strength on {voice}: level and tilt did not move together as "
            "a harder or softer hand moves them ({why}).",
            voice=voice,
            why=why,
        )
    louder = facts.louder_db > 0.0
    if facts.every_voice:
        what = (
            tr_later(
                "{voice} came out {size} dB louder, and so did the other voices, alike: harder "
                "picking throughout explains it as well as the work would. Another sign is "
                "missing: {why}."
            )
            if louder
            else tr_later(
                "{voice} came out {size} dB softer, and so did the other voices, alike: softer "
                "picking throughout explains it as well as the work would. Another sign is "
                "missing: {why}."
            )
        )
        return tr(what, voice=voice, size=number(abs(facts.louder_db), 1), why=why)
    what = (
        tr_later(
            "{voice} came out louder with stronger upper partials ({size}, {tilt} dB per octave), "
            "as harder picking does: the hand explains it as well as the work would. Another sign "
            "is missing: {why}."
        )
        if louder
        else tr_later(
            "{voice} came out softer with weaker upper partials ({size}, {tilt} dB per octave), as "
            "softer picking does: the hand explains it as well as the work would. Another sign is "
            "missing: {why}."
        )
    )
    louder_db = signed(facts.louder_db)
    size = tr("{size} dB at the peak", size=louder_db) if facts.at_peak else f"{louder_db} dB"
    return tr(what, voice=voice, size=size, tilt=signed(facts.tilt_db_per_octave), why=why)


def _of_one_voice(facts: StrengthFacts, voice: str) -> str:
    what = (
        tr_later(
            "{voice} came out {size} dB louder, and nothing tells whether the riff was played "
            "louder throughout: by loudness alone the work and the hand cannot be told apart. Play "
            "the riff on a voice that nobody worked on, too, or pluck single notes."
        )
        if facts.louder_db > 0.0
        else tr_later(
            "{voice} came out {size} dB softer, and nothing tells whether the riff was played "
            "softer throughout: by loudness alone the work and the hand cannot be told apart. Play "
            "the riff on a voice that nobody worked on, too, or pluck single notes."
        )
    )
    return tr(what, voice=voice, size=number(abs(facts.louder_db), 1))


def _by_glide(confound: Confound, glide_cents: tuple[float, float], voice: str) -> str:
    before, after = (number(cents, 1) for cents in glide_cents)
    other = voice_title(confound.against) if confound.against else ""
    starts = (
        tr(
            "its notes began {cents} cents sharp, those of {other} {others}",
            cents=after,
            other=other,
            others=before,
        )
        if other
        else tr(
            "its notes began {before} cents sharp before and {after} after",
            before=before,
            after=after,
        )
    )
    ends = [end for end in (confound.ci_low, confound.ci_high) if end is not None]
    if not confound.found:
        widest = max((abs(end) for end in ends), default=0.0)
        return tr(
            tr_later(
                "{voice} was picked as hard as {other}, to within {size} dB: {starts}, which a "
                "harder pluck would have raised whatever the pickup."
            )
            if other
            else tr_later(
                "{voice} was picked equally hard in both stages, to within {size} dB: {starts}, "
                "which a harder pluck would have raised whatever the pickup."
            ),
            voice=voice,
            other=other,
            size=number(widest, 1),
            starts=starts,
        )
    harder = (confound.estimate or 0.0) > 0.0
    low, high = sorted(max(end if harder else -end, 0.0) for end in ends)
    picked = tr(
        _PICKED[harder, bool(other)],
        voice=voice,
        other=other,
        size=number(abs(confound.estimate or 0.0), 1),
        low=number(low, 1),
        high=number(high, 1),
    )
    return tr(
        "{picked}: {starts}, which only the hand does and no pickup. It is taken out of level, "
        "brightness and partials.",
        picked=picked,
        starts=starts,
    )


def _no_glide(facts: StrengthFacts) -> str:
    if facts.glide_cents is not None:
        return tr("the notes begin too little sharp to tell how hard they were picked")
    return tr(
        "the notes begin too little sharp, or ring too short, to tell how hard they were picked"
    )
