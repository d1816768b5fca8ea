"""What the takes leave open of one difference, and why nothing may be claimed of it.

Each says it of what was compared (:class:`Case`): two stages or two voices, plucked notes or
chords and riffs that were played.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tonecompare.compare import reasons
from tonecompare.language import tr, tr_as, tr_n
from tonecompare.report.words.numbers import difference_decimals, number, plain, signed_parts


@dataclass(frozen=True)
class Case:
    """What was compared, and what its two sides are called in a sentence."""

    #: Two voices, not two stages of one.
    voices: bool = False
    #: Chords or riffs alone stand behind it.
    played: bool = False
    #: The two voices, as people read them.
    before: str = ""
    after: str = ""


def set_by_player(quantity: str, case: Case) -> str:
    """Say that tuning or picking place are the player's."""
    if quantity == "cents":
        if case.voices:
            return tr(
                "The strings were tuned differently for the two voices; that is tuning, not the "
                "voice."
            )
        return tr(
            "The strings were tuned differently in the two stages; that is tuning, not the work."
        )
    if case.voices:
        return tr("The strings were picked at another place; that is the playing, not the voice.")
    return tr("The strings were picked at another place; that is the playing, not the work.")


def no_variation(case: Case) -> str:
    """Say that repeats without any scatter look like copies."""
    if case.played:
        return tr(
            "The repeats do not vary at all: they look like copies of one, not repeats. Check the "
            "files."
        )
    return tr(
        "The repeats do not vary at all: they look like copies of one pluck, not repeats. Check "
        "the files."
    )


def one_note(case: Case) -> str:
    """Say that a single note or chord cannot tell the work from the hand."""
    if case.played and case.voices:
        return tr(
            "Only one chord was played with both voices; its strums are repeats of one hand "
            "position, so the voice cannot be told from the picking. Play at least 3 chords."
        )
    if case.played:
        return tr(
            "Only one chord was played in both stages; its strums are repeats of one hand "
            "position, so the work cannot be told from the picking. Play at least 3 chords."
        )
    if case.voices:
        return tr(
            "Only one note was recorded with both voices; its plucks are repeats of one hand "
            "position, so the voice cannot be told from the picking. Record at least 3 notes."
        )
    return tr(
        "Only one note was recorded in both stages; its plucks are repeats of one hand position, "
        "so the work cannot be told from the picking. Record at least 3 notes."
    )


def one_pluck(case: Case) -> str:
    """Say that a note has too few repeats on a side."""
    if case.played and case.voices:
        return tr(
            "It was played fewer than twice on one side, so there is no telling how far playing it "
            "again moves it. Play it at least 4 times with each voice."
        )
    if case.played:
        return tr(
            "It was played fewer than twice on one side, so there is no telling how far playing it "
            "again moves it. Play it at least 4 times in each stage."
        )
    if case.voices:
        return tr(
            "This note has fewer than two usable plucks on one side, so there is no telling how "
            "far re-plucking alone moves it. Record at least 3 plucks of it with each voice."
        )
    return tr(
        "This note has fewer than two usable plucks on one side, so there is no telling how far "
        "re-plucking alone moves it. Record at least 3 plucks of it in each stage."
    )


def one_stretch(_: Case) -> str:
    """Say that one quiet stretch is too few."""
    return tr(
        "Only one quiet stretch and no uncertainty of its own on one side: leave two or more quiet "
        "stretches of 2 s in each recording."
    )


def no_signal(_: Case) -> str:
    """Say that signal over hum has no signal to be judged by."""
    return tr(
        "Nothing was played twice on both sides, so there is no telling how far playing it again "
        "alone moves the signal over the hum. Play the same at least 4 times on both sides."
    )


#: Rows that may claim nothing.
UNJUDGED: Mapping[str, Callable[[Case], str]] = {
    reasons.NO_VARIATION: no_variation,
    reasons.ONE_NOTE: one_note,
    reasons.ONE_PLUCK: one_pluck,
    reasons.ONE_STRETCH: one_stretch,
    reasons.NO_SIGNAL: no_signal,
}


def _unknown_limit(_: Case, low: float, high: float, unit: str) -> str:
    return tr(
        "{opening}; how small a difference of this kind is heard is not known, so that there is "
        "none to be heard cannot be shown.",
        opening=_opening(low, high, unit),
    )


def _opening(low: float, high: float, unit: str) -> str:
    span = _span(low, high, unit)
    if low > 0.0 or high < 0.0:
        return tr(
            "Taken alone a difference of {span}, but among all differences of this report chance "
            "can make one like it",
            span=span,
        )
    return tr("The takes allow anything from {span}", span=span)


def _alone(case: Case, low: float, high: float, unit: str) -> str:
    span = _span(low, high, unit)
    if case.played:
        return tr(
            "This one differs by {span}, but all together do not show it, and one alone can be the "
            "hand.",
            span=span,
        )
    return tr(
        "This note differs by {span}, but the notes together do not show it, and one note alone "
        "can be the picking place.",
        span=span,
    )


def _drifted(case: Case, low: float, high: float, unit: str) -> str:
    span = _span(low, high, unit)
    if case.voices:
        return tr(
            "The guitar drifted while it was recorded; with that allowed for, the takes leave room "
            "for {span}.",
            span=span,
        )
    return tr(
        "A stage of this comparison drifted while it was recorded; with that allowed for, the "
        "takes leave room for {span}.",
        span=span,
    )


def _more_stretches(case: Case, low: float, high: float, unit: str, more: int) -> str:
    opening = _opening(low, high, unit)
    if case.voices:
        return tr_n(
            "{opening}; about {n} more quiet stretch with each voice would settle it.",
            "{opening}; about {n} more quiet stretches with each voice would settle it.",
            more,
            opening=opening,
        )
    return tr_n(
        "{opening}; about {n} more quiet stretch in each stage would settle it.",
        "{opening}; about {n} more quiet stretches in each stage would settle it.",
        more,
        opening=opening,
    )


def _no_stretches(_: Case, low: float, high: float, unit: str) -> str:
    return tr(
        "{opening}; more quiet stretches of this kind would hardly settle it.",
        opening=_opening(low, high, unit),
    )


def _more_plucks(case: Case, low: float, high: float, unit: str, more: int) -> str:
    opening = _opening(low, high, unit)
    if case.played and case.voices:
        return tr_n(
            "{opening}; about {n} more time played with each voice would settle it.",
            "{opening}; about {n} more times played with each voice would settle it.",
            more,
            opening=opening,
        )
    if case.played:
        return tr_n(
            "{opening}; about {n} more time played in each stage would settle it.",
            "{opening}; about {n} more times played in each stage would settle it.",
            more,
            opening=opening,
        )
    if case.voices:
        return tr_n(
            "{opening}; about {n} more pluck of each note with each voice would settle it.",
            "{opening}; about {n} more plucks of each note with each voice would settle it.",
            more,
            opening=opening,
        )
    return tr_n(
        "{opening}; about {n} more pluck of each note in each stage would settle it.",
        "{opening}; about {n} more plucks of each note in each stage would settle it.",
        more,
        opening=opening,
    )


def _no_plucks(case: Case, low: float, high: float, unit: str, most: int) -> str:
    opening = _opening(low, high, unit)
    if case.played:
        return tr(
            "{opening}; more than {most} more times played would be needed.",
            opening=opening,
            most=most,
        )
    return tr(
        "{opening}; more than {most} more plucks of this note would be needed.",
        opening=opening,
        most=most,
    )


def _more_notes(case: Case, low: float, high: float, unit: str, more: int) -> str:
    opening = _opening(low, high, unit)
    if case.played:
        return tr(
            "{opening}; they differ too much for more repeats to settle it, about {n} more of "
            "other music would.",
            opening=opening,
            n=more,
        )
    return tr_n(
        "{opening}; the notes differ too much for more plucks to settle it, about {n} more note "
        "would.",
        "{opening}; the notes differ too much for more plucks to settle it, about {n} more notes "
        "would.",
        more,
        opening=opening,
    )


def _nothing(case: Case, low: float, high: float, unit: str) -> str:
    opening = _opening(low, high, unit)
    if case.played:
        return tr(
            "{opening}; no sensible number of further repeats would settle it.", opening=opening
        )
    return tr(
        "{opening}; no sensible number of further plucks or notes would settle it.",
        opening=opening,
    )


#: Rows that are open.
UNDECIDED: Mapping[str, Callable[..., str]] = {
    reasons.ALONE: _alone,
    reasons.DRIFTED: _drifted,
    reasons.MORE_STRETCHES: _more_stretches,
    reasons.NO_STRETCHES: _no_stretches,
    reasons.MORE_PLUCKS: _more_plucks,
    reasons.NO_PLUCKS: _no_plucks,
    reasons.MORE_NOTES: _more_notes,
    reasons.NOTHING: _nothing,
    reasons.UNKNOWN_LIMIT: _unknown_limit,
}


def _span(low: float, high: float, unit: str) -> str:
    """Write an interval with the digits that the tables give it."""
    ends = signed_parts((low + high) / 2.0, low, high, unit)[1]
    return f"{ends} {_unit(unit)}".rstrip()


def _unit(unit: str) -> str:
    told = {"share": tr_as("unit", "share"), "dB/octave": tr_as("unit", "dB/octave")}
    return told.get(unit, unit)


def not_shown(low: float, high: float, unit: str) -> str:
    """Say that nothing is shown where no hearing threshold is known."""
    decimals = difference_decimals((low + high) / 2.0, low, high, unit)
    most = 10.0**-decimals
    if max(abs(low), abs(high)) < 0.5 * most:  # both ends would be written as 0
        return tr(
            "No difference is shown; the takes allow less than {size} either way. How small a "
            "difference of this kind is heard is not known.",
            size=f"{number(most, decimals)} {_unit(unit)}".rstrip(),
        )
    return tr(
        "No difference is shown; the takes allow {span}. How small a difference of this kind is "
        "heard is not known.",
        span=_span(low, high, unit),
    )


def threshold_words(below: float, above: float, unit: str) -> str:
    """Write a hearing threshold with its unit: ``1 dB`` or ``−25 to +40 %``."""
    if below == above:
        return f"{plain(above)} {unit}"
    ends = tr("{low} to {high}", low=f"−{plain(below)}", high=f"+{plain(above)}")
    return f"{ends} {unit}"
