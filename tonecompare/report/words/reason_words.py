"""Why a verdict is what it is, in a sentence: the column ``reason`` of ``differences.csv``."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import pandas as pd

from tonecompare.compare import reasons
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.compare.notes import SISTERS
from tonecompare.compare.reasons import Reason
from tonecompare.language import language, tr, tr_as, tr_later
from tonecompare.quantities.compared import quantity_of
from tonecompare.quantities.words import words_for
from tonecompare.report.difference_views import ALL_NOTES, Difference, rows_of
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.finding_words.left_open import (
    UNDECIDED,
    UNJUDGED,
    Case,
    not_shown,
    set_by_player,
    threshold_words,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import number
from tonecompare.report.words.phrases import IN_PAUSES, LIKELY, MAY_BE, NOT_EXPECTED
from tonecompare.session.model import ComparedSide
from tonecompare.takes.plucks.passages import is_played

#: What a cause's sentence says of the work, and what stands for it where two voices are compared.
_OF_VOICES = ((tr_later("not the work"), tr_later("not the voice")),)
#: How a reason of measuring begins that a sentence here says in its own words.
_NOT_DETERMINABLE = tr_later("not determinable: ")
#: Two stages, by notes that were plucked.
_STAGES = Case()
#: What stands behind a difference.
_PLUCKS, _REPEATS, _QUIETS = "plucks", "repeats", "quiet stretches"


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
        chords or riffs alone. Told once in each language and shared: not to be changed.
    """
    return _told_in(comparisons, language())


@lru_cache(maxsize=4)
def _told_in(comparisons: Comparisons, _language: str) -> pd.DataFrame:
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


def told_rows(comparisons: Comparisons) -> tuple[Difference, ...]:
    """Return the rows over all notes of :func:`told_differences`, read once and shared."""
    return _rows_told_in(comparisons, language())


@lru_cache(maxsize=4)
def _rows_told_in(comparisons: Comparisons, spoken: str) -> tuple[Difference, ...]:
    return tuple(rows_of(_told_in(comparisons, spoken)))


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
    one, other = ComparedSide.named(before), ComparedSide.named(after)
    if one.voice is None or other.voice is None or one.voice == other.voice:
        return reason_text(reason, confounds, Case(played=played))
    names = voice_title(one.voice), voice_title(other.voice)
    return reason_text(reason, confounds, Case(True, played, *names))


def reason_text(reason: Reason, confounds: Sequence[Confound] = (), case: Case = _STAGES) -> str:
    """Return the sentence of one reason.

    Parameters
    ----------
    reason
        Code and data.
    confounds
        Those of its report, in which the reason may name places.
    case
        What was compared.

    Examples
    --------
    >>> reason_text(Reason("more-plucks", "level_dbfs", (-0.2, 1.4, "dB", 1)))
    'The takes allow anything from −0.2 to +1.4 dB; about 1 more pluck of each note in each stage \
would settle it.'
    """
    code, data = reason.code, reason.data
    if code == reasons.CAUSES:
        return _causes([confounds[place] for place in data], case)
    if code == reasons.SET_BY_PLAYER:
        return set_by_player(reason.quantity, case)
    if code in UNJUDGED:
        return UNJUDGED[code](case)
    if code == reasons.NOT_DETERMINED:
        return _not_determined(reason.quantity, case, *(data or ("", "")))
    quiet = quantity_of(reason.quantity).quiet
    if code == reasons.NOT_BOTH:
        table = "quiet.csv" if quiet else "measurements.csv"
        return tr("Could not be measured on both sides; the flags of {table} say why.", table=table)
    if code in UNDECIDED:
        return UNDECIDED[code](case, *data)
    if code == reasons.FAINT:
        return _faint(*data)
    if code == reasons.NOT_SHOWN:
        return not_shown(*data)
    source = _QUIETS if quiet else _REPEATS if case.played else _PLUCKS
    if code == reasons.NO_THRESHOLD:
        return tr(
            "Shown by the {source}; how small a difference of this kind is heard is not known.",
            source=_after_shown_by(source),
        )
    return _decided(code, source, *data)


def _causes(found: Sequence[Confound], case: Case) -> str:
    said = " ".join(dict.fromkeys(map(cause_text, found)))
    for words, instead in _OF_VOICES if case.voices else ():
        said = said.replace(tr(words), tr(instead))
    return said


def _not_determined(quantity: str, case: Case, before: str, after: str) -> str:
    """Say which side lacks a number of a whole voice, and why."""
    noun = words_for(quantity).noun
    before, after = (tr(why).removeprefix(tr(_NOT_DETERMINABLE)) for why in (before, after))
    sides = []
    if before:
        sides.append(
            tr("for {voice} {why}", voice=case.before, why=before)
            if case.voices
            else tr("before the work {why}", why=before)
        )
    if after:
        sides.append(
            tr("for {voice} {why}", voice=case.after, why=after)
            if case.voices
            else tr("after the work {why}", why=after)
        )
    if not sides:
        return tr(
            "The {noun} could not be determined on both sides; the flags of voices.csv say why.",
            noun=noun,
        )
    return tr("The {noun} could not be determined: {why}.", noun=noun, why="; ".join(sides))


def _decided(
    code: str, source: str, below: float, above: float, unit: str, likely_at: float, passed: float
) -> str:
    size = threshold_words(below, above, unit)
    words = wording(passed, outside_repeatability=code == reasons.LIKELY, likely_at=likely_at)
    if code == reasons.UNCHANGED:
        return tr(
            "The whole interval lies within the hearing threshold of {size}: {audible}.",
            size=size,
            audible=tr(words),
        )
    if source == _QUIETS:
        words = IN_PAUSES.get(words, words)
    if code == reasons.LIKELY:
        explained = {
            _PLUCKS: tr("re-plucking explains"),
            _REPEATS: tr("playing it again explains"),
            _QUIETS: tr("the quiet stretches explain"),
        }
        far = (
            tr_later(
                "Outside what {repeats} and beyond the hearing threshold of {size}: {audible}."
            )
            if likely_at == 1.0
            else tr_later(
                "Outside what {repeats} and more than twice the hearing threshold of {size}: "
                "{audible}."
            )
        )
        return tr(far, repeats=explained[source], size=size, audible=tr(words))
    shown = (
        tr_later("Shown by the {source}, but within the hearing threshold of {size}: {audible}.")
        if passed < 1.0
        else tr_later("Shown by the {source}; with a hearing threshold of {size} it {audible}.")
    )
    return tr(shown, source=_after_shown_by(source), size=size, audible=tr(words))


def _after_shown_by(source: str) -> str:
    """Return what stands behind a difference, as it reads after "shown by the"."""
    return {
        _PLUCKS: tr_as("shown by the", "plucks"),
        _REPEATS: tr_as("shown by the", "repeats"),
        _QUIETS: tr_as("shown by the", "quiet stretches"),
    }[source]


def _faint(under_db: float) -> str:
    return tr(
        "Shown by the quiet stretches, but all the noise lies {under} dB (A-weighted) under the "
        "notes: with the notes at 80 dB a quiet room hides it. High gain can bring it up.",
        under=number(under_db, 0),
    )


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
        One of the three phrases of :mod:`tonecompare.compare.thresholds`, in English.
    """
    if thresholds_passed < 1.0:
        return NOT_EXPECTED
    if thresholds_passed >= likely_at and outside_repeatability:
        return LIKELY
    return MAY_BE
