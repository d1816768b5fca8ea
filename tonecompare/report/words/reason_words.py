"""Why a verdict is what it is, in a sentence: the column ``reason`` of ``differences.csv``."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pandas as pd

from tonecompare.compare import reasons
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.compare.notes import SISTERS
from tonecompare.compare.reasons import Reason
from tonecompare.quantities.compared import quantity_of
from tonecompare.quantities.words import words_for
from tonecompare.report.difference_views import ALL_NOTES
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.phrases import IN_PAUSES, LIKELY, MAY_BE, NOT_EXPECTED
from tonecompare.session.model import ComparedSide
from tonecompare.takes.plucks.passages import is_played

_PLAYER = {
    "cents": "The strings were tuned differently in the two stages; that is tuning, not the work.",
    "pluck_point": "The strings were picked at another place; that is the playing, not the work.",
}
#: Words of a comparison of stages, and what stands for them where two voices are compared.
_OF_VOICES = {
    "in the two stages": "for the two voices",
    "in both stages": "with both voices",
    "in each stage": "with each voice",
    "A stage of this comparison": "The guitar",
    "not the work": "not the voice",
    "so the work cannot": "so the voice cannot",
}
#: Words of plucked notes, and what stands for them where chords or riffs were played.
_OF_PLAYED = {
    "more plucks of each note": "more times played",
    "more pluck of each note": "more time played",
    "more plucks of this note": "more times played",
    "copies of one pluck": "copies of one",
    "re-plucking alone": "playing it again",
    "re-plucking explains": "playing it again explains",
    "Shown by the plucks": "Shown by the repeats",
    "the notes differ too much for more plucks": "they differ too much for more repeats",
    "more notes would": "more of other music would",
    "more note would": "more of other music would",
    "further plucks or notes": "further repeats",
    "This note has fewer than two usable plucks": "It was played fewer than twice",
    "Record at least 3 plucks of it": "Play it at least 4 times",
    "Only one note was recorded in both stages; its plucks are": (
        "Only one chord was played in both stages; its strums are"
    ),
    "Record at least 3 notes": "Play at least 3 chords",
    "This note differs": "This one differs",
    "but the notes together": "but all together",
    "and one note alone can be the picking place": "and one alone can be the hand",
}
_UNJUDGED = {
    reasons.NO_VARIATION: (
        "The repeats do not vary at all: they look like copies of one pluck, not repeats. Check "
        "the files."
    ),
    reasons.ONE_NOTE: (
        "Only one note was recorded in both stages; its plucks are repeats of one hand position, "
        "so the work cannot be told from the picking. Record at least 3 notes."
    ),
    reasons.ONE_PLUCK: (
        "This note has fewer than two usable plucks on one side, so there is no telling how far "
        "re-plucking alone moves it. Record at least 3 plucks of it in each stage."
    ),
    reasons.ONE_STRETCH: (
        "Only one quiet stretch and no uncertainty of its own on one side: leave two or more quiet "
        "stretches of 2 s in each recording."
    ),
}


def told_differences(comparisons: Comparisons) -> pd.DataFrame:
    """Return the table of differences with every reason as its sentence.

    Parameters
    ----------
    comparisons
        What :func:`tonecompare.compare.compare_session` returned.

    Returns
    -------
    pandas.DataFrame
        ``comparisons.differences``, the column ``reason`` as people read it, and ``sisters``:
        whether two guitars of one model are compared, and ``played``: whether a row rests on
        chords or riffs alone.
    """
    table = comparisons.differences
    if "reason" not in table:
        return table
    played = rests_on_played(table)
    said = [
        _told(reason, comparisons.confounds, before, after, played=of)
        for reason, before, after, of in zip(
            table["reason"], table["before"], table["after"], played, strict=True
        )
    ]
    sisters = [
        name
        for name, notes in comparisons.notes.items()
        if any(note.kind == SISTERS for note in notes)
    ]
    return table.assign(
        reason=pd.Series(said, index=table.index, dtype=object),
        sisters=table["comparison"].isin(sisters),
        played=played,
    )


def rests_on_played(table: pd.DataFrame) -> pd.Series:
    """Return for each row of the differences whether chords or riffs stand behind it alone.

    A row over all notes rests on what its comparison, voice and output has rows of.
    """
    if "note" not in table:
        return pd.Series(data=False, index=table.index, dtype=bool)
    named = table["note"] != ALL_NOTES
    played = table["note"].map(is_played).astype(bool)
    keys = ["comparison", "voice", "output"]
    of_voice = played[named].groupby([table.loc[named, key] for key in keys]).all().to_dict()
    rows = table[keys].itertuples(index=False, name=None)
    over_all = pd.Series([of_voice.get(key, False) for key in rows], table.index, dtype=bool)
    quiet = table["n_notes"] == 0 if "n_notes" in table else False
    return played.where(named, over_all) & ~quiet


def _told(
    reason: object, confounds: Sequence[Confound], before: str, after: str, *, played: bool
) -> object:
    if not isinstance(reason, Reason):
        return reason
    said = reason_text(reason, confounds)
    for words, instead in _OF_PLAYED.items() if played else ():
        said = said.replace(words, instead)
    one, other = ComparedSide.named(before), ComparedSide.named(after)
    if one.voice is None or other.voice is None or one.voice == other.voice:
        return said
    for words, instead in _OF_VOICES.items():
        said = said.replace(words, instead)
    for side, voice in (("before", one.voice), ("after", other.voice)):
        said = said.replace(f"{side} the work", f"for {voice_title(voice)}")
    return said


def reason_text(reason: Reason, confounds: Sequence[Confound] = ()) -> str:
    """Return the sentence of one reason.

    Parameters
    ----------
    reason
        Code and data.
    confounds
        Those of its report, in which the reason may name places.

    Examples
    --------
    >>> reason_text(Reason("more-plucks", "level_dbfs", (-0.2, 1.4, "dB", 1)))
    'The takes allow anything from −0.20 to +1.4 dB; about 1 more pluck of each note in each stage \
would settle it.'
    """
    if reason.code == reasons.CAUSES:
        return " ".join(dict.fromkeys(cause_text(confounds[place]) for place in reason.data))
    if reason.code == reasons.SET_BY_PLAYER:
        return _PLAYER[reason.quantity]
    if reason.code in _UNJUDGED:
        return _UNJUDGED[reason.code]
    if reason.code == reasons.NOT_DETERMINED:
        return _not_determined(reason.quantity, *(reason.data or ("", "")))
    quiet = quantity_of(reason.quantity).quiet
    if reason.code == reasons.NOT_BOTH:
        table = "quiet.csv" if quiet else "measurements.csv"
        return f"Could not be measured on both sides; the flags of {table} say why."
    if reason.code in _UNDECIDED:
        return _UNDECIDED[reason.code](*reason.data)
    source = "quiet stretches" if quiet else "plucks"
    if reason.code == reasons.NO_THRESHOLD:
        return f"Shown by the {source}; how small a difference of this kind is heard is not known."
    if reason.code == reasons.FAINT:
        return _faint(*reason.data)
    if reason.code == reasons.NOT_SHOWN:
        return _not_shown(*reason.data)
    return _decided(reason.code, source, *reason.data)


def _not_determined(quantity: str, before: str, after: str) -> str:
    """Say which side lacks a number of a whole voice, and why."""
    sides = [
        f"{side} the work {why.removeprefix('not determinable: ')}"
        for side, why in (("before", before), ("after", after))
        if why
    ]
    noun = words_for(quantity).noun
    if not sides:
        return f"The {noun} could not be determined on both sides; the flags of voices.csv say why."
    return f"The {noun} could not be determined: {'; '.join(sides)}."


def _unknown_limit(low: float, high: float, unit: str) -> str:
    return (
        f"{_opening(low, high, unit)}; how small a difference of this kind is heard is not known, "
        "so that there is none to be heard cannot be shown."
    )


def _decided(
    code: str, source: str, below: float, above: float, unit: str, likely_at: float, passed: float
) -> str:
    size = threshold_words(below, above, unit)
    words = wording(passed, outside_repeatability=code == reasons.LIKELY, likely_at=likely_at)
    if code == reasons.UNCHANGED:
        return f"The whole interval lies within the hearing threshold of {size}: {words}."
    if source != "plucks":
        words = IN_PAUSES.get(words, words)
    if code == reasons.LIKELY:
        repeats = "re-plucking explains" if source == "plucks" else "the quiet stretches explain"
        times = "beyond" if likely_at == 1.0 else "more than twice"
        return f"Outside what {repeats} and {times} the hearing threshold of {size}: {words}."
    if passed < 1.0:
        return f"Shown by the {source}, but within the hearing threshold of {size}: {words}."
    return f"Shown by the {source}; with a hearing threshold of {size} it {words}."


def _faint(under_db: float) -> str:
    return (
        f"Shown by the quiet stretches, but all the noise lies {under_db:.0f} dB (A-weighted) "
        "under the notes: with the notes at 80 dB a quiet room hides it. High gain can bring it up."
    )


def _not_shown(low: float, high: float, unit: str) -> str:
    span = f"{signed(low)} to {signed(high)}{f' {unit}' if unit else ''}"
    return (
        f"No difference is shown; the takes allow {span}. From what size on a difference of this "
        "kind is heard is not known."
    )


def _opening(low: float, high: float, unit: str) -> str:
    if low > 0.0 or high < 0.0:
        return (
            f"Taken alone a difference of {_span(low, high, unit)}, but among all differences of "
            "this report chance can make one like it"
        )
    return f"The takes allow anything from {_span(low, high, unit)}"


def _alone(low: float, high: float, unit: str) -> str:
    return (
        f"This note differs by {_span(low, high, unit)}, but the notes together do not show it, "
        "and one note alone can be the picking place."
    )


def _drifted(low: float, high: float, unit: str) -> str:
    return (
        "A stage of this comparison drifted while it was recorded; with that allowed for, the "
        f"takes leave room for {_span(low, high, unit)}."
    )


def _more_stretches(low: float, high: float, unit: str, number: int) -> str:
    more = _count(number, "more quiet stretch", "es")
    return f"{_opening(low, high, unit)}; about {more} in each stage would settle it."


def _no_stretches(low: float, high: float, unit: str) -> str:
    opening = _opening(low, high, unit)
    return f"{opening}; more quiet stretches of this kind would hardly settle it."


def _more_plucks(low: float, high: float, unit: str, number: int) -> str:
    more = _count(number, "more pluck")
    return f"{_opening(low, high, unit)}; about {more} of each note in each stage would settle it."


def _no_plucks(low: float, high: float, unit: str, most: int) -> str:
    opening = _opening(low, high, unit)
    return f"{opening}; more than {most} more plucks of this note would be needed."


def _more_notes(low: float, high: float, unit: str, number: int) -> str:
    return (
        f"{_opening(low, high, unit)}; the notes differ too much for more plucks to settle it, "
        f"about {_count(number, 'more note')} would."
    )


def _nothing(low: float, high: float, unit: str) -> str:
    opening = _opening(low, high, unit)
    return f"{opening}; no sensible number of further plucks or notes would settle it."


_UNDECIDED: Mapping[str, Callable[..., str]] = {
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


def _count(number: int, word: str, plural: str = "s") -> str:
    return f"{number} {word}{'' if number == 1 else plural}"


def _span(low: float, high: float, unit: str) -> str:
    return f"{signed(low)} to {signed(high)} {unit}"


def signed(value: float) -> str:
    """Write a number with its sign and two significant digits, no less than a hundredth."""
    size = abs(value)
    digits = 0 if size >= 10.0 else 1 if size >= 0.95 else 2 if size >= 0.095 else 3
    text = f"{value:+.{digits}f}".replace("-", "−")
    return text[1:] if float(f"{value:.{digits}f}") == 0.0 else text


def threshold_words(below: float, above: float, unit: str) -> str:
    """Write a hearing threshold with its unit: ``1 dB`` or ``−25 to +40 %``."""
    return f"{above:g} {unit}" if below == above else f"−{below:g} to +{above:g} {unit}"


def wording(
    thresholds_passed: float, *, outside_repeatability: bool, likely_at: float = 2.0
) -> str:
    """Say what a difference of so many hearing thresholds allows one to say.

    Parameters
    ----------
    thresholds_passed
        Magnitude of the difference over the hearing threshold on its side.
    outside_repeatability
        Whether the repeats rule out that re-plucking alone made it.
    likely_at
        See :class:`HearingThreshold`.

    Returns
    -------
    str
        One of the three phrases of :mod:`tonecompare.compare.thresholds`.
    """
    if thresholds_passed < 1.0:
        return NOT_EXPECTED
    if thresholds_passed >= likely_at and outside_repeatability:
        return LIKELY
    return MAY_BE
