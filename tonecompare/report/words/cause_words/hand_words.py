"""What is said of the hand: picked elsewhere, picked harder or softer."""

from __future__ import annotations

from tonecompare.compare.cause_facts import PlaceFacts, StrengthFacts
from tonecompare.compare.model import Confound
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import MINUS

_BOTH = "place in both stages"


def signed(value: float | None, decimals: int = 1) -> str:
    """Return a number with its sign, the minus a real one."""
    if value is None:
        raise ValueError("a cause that is told by its size has none")
    return f"{value:+.{decimals}f}".replace("-", MINUS)


def than(confound: Confound) -> str:
    """Return what follows a comparative: ``after``, between voices ``than Bridge``."""
    return f"than {voice_title(confound.against)}" if confound.against else "after"


def place_text(confound: Confound, facts: PlaceFacts, voice: str) -> str:
    """Return what is said of the picking place; ``voice`` starts the text."""
    mean, low, high = confound.estimate, confound.ci_low, confound.ci_high
    if mean is None or low is None or high is None:
        raise ValueError("a picking place is told by how far it moved")
    if not confound.found:
        widest = max(abs(low), abs(high))
        if not widest < float("inf"):
            return f"{voice}: the takes do not tell whether the picking place moved."
        same = f"place as {voice_title(confound.against)}" if confound.against else _BOTH
        return (
            f"{voice} was picked at the same {same} to within "
            f"{_size(widest, facts.length_mm)} on average "
            f"({signed(100.0 * mean)} % of the string)."
        )
    if facts.scatter is None:
        where = "away from" if mean > 0.0 else "towards"
        moved = f"{_size(abs(mean), facts.length_mm)} {where} the bridge"
    else:
        moved = (
            f"{_size(facts.scatter, facts.length_mm)} one way or the other, differently from note "
            "to note"
        )
    return (
        f"{voice} was picked at another place {than(confound)}: {moved}. That alone changes "
        "partials, brightness, level and the mix that dies away; where it can be worked out, it is "
        "taken out of the differences."
    )


def _size(share: float, length_mm: float | None) -> str:
    if length_mm:
        return f"{share * length_mm:.0f} mm (open string)"
    return f"{100.0 * share:.1f} % of the string's length"


def strength_text(confound: Confound, facts: StrengthFacts, voice: str) -> str:
    """Return what is said of the strength of picking; ``voice`` starts the text."""
    if facts.by_glide and facts.glide_cents is not None:
        return _by_glide(confound, facts.glide_cents, voice)
    why = _no_glide(facts)
    if not confound.found:
        return (
            f"No sign of another pick strength on {voice}: level and tilt did not move together as "
            f"a harder or softer hand moves them ({why})."
        )
    louder = facts.louder_db > 0.0
    if facts.every_voice:
        return (
            f"{voice} came out {abs(facts.louder_db):.1f} dB {'louder' if louder else 'softer'}, "
            f"and so did the other voices, alike: {'harder' if louder else 'softer'} picking "
            f"throughout explains it as well as the work would. Another sign is missing: {why}."
        )
    how = "harder" if louder else "softer"
    came = "louder with stronger" if louder else "softer with weaker"
    by = f"{signed(facts.louder_db)} dB{' at the peak' if facts.at_peak else ''}"
    return (
        f"{voice} came out {came} upper partials ({by}, {signed(facts.tilt_db_per_octave)} dB per "
        f"octave), as {how} picking does: the hand explains it as well as the work would. "
        f"Another sign is missing: {why}."
    )


def _by_glide(confound: Confound, glide_cents: tuple[float, float], voice: str) -> str:
    before, after = (f"{cents:.1f}" for cents in glide_cents)
    starts = f"its notes began {before} cents sharp before and {after} after"
    equally = "equally hard in both stages"
    if confound.against:
        other = voice_title(confound.against)
        starts = f"its notes began {after} cents sharp, those of {other} {before}"
        equally = f"as hard as {other}"
    ends = [end for end in (confound.ci_low, confound.ci_high) if end is not None]
    if not confound.found:
        widest = max((abs(end) for end in ends), default=0.0)
        return (
            f"{voice} was picked {equally}, to within {widest:.1f} dB: {starts}, "
            "which a harder pluck would have raised whatever the pickup."
        )
    harder = (confound.estimate or 0.0) > 0.0
    low, high = sorted(max(end if harder else -end, 0.0) for end in ends)
    return (
        f"{voice} was picked {'harder' if harder else 'softer'} {than(confound)}, by "
        f"{abs(confound.estimate or 0.0):.1f} dB ({low:.1f} to {high:.1f}): {starts}, which only "
        "the hand does and no pickup. It is taken out of level, brightness and partials."
    )


def _no_glide(facts: StrengthFacts) -> str:
    short = "" if facts.glide_cents is not None else ", or ring too short,"
    return f"the notes begin too little sharp{short} to tell how hard they were picked"
