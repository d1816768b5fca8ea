"""How sure the sheet is, in plain words: how often each note was played, and what else moved."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.compare import notes
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Note
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.compared_sides import Compared
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed

#: What each cause is in plain words, after "Between the recordings".
_MOVED = {
    "gain": tr_later("the recording level was set differently"),
    "pick-position": tr_later("the strings were picked at another place"),
    "pick-strength": tr_later("the strings were picked harder or softer"),
    "tuning": tr_later("the guitar was tuned differently"),
    "strings": tr_later("the strings were different, or older"),
    "load": tr_later("the cable or the input was different"),
    "processing": tr_later("a file was changed by some processing"),
    "mains": tr_later("the hum of the place was different"),
    "quiet": tr_later("the noise is known on one side only"),
    "sessions": tr_later("something changed from one day to the other"),
    "drift": tr_later("something crept within a session"),
}
_CANNOT_TELL = {
    "level_dbfs": tr_later("loudness"),
    "decay_s": tr_later("sustain"),
    "hum_dbfs": tr_later("hum"),
}


def sureness(
    every: Sequence[Compared],
    comparisons: Comparisons,
    voices: Sequence[Sequence[Difference]],
) -> tuple[str, ...]:
    """Return a few sentences on how far the sheet can be trusted.

    Parameters
    ----------
    every
        The comparisons.
    comparisons
        Their causes and notes.
    voices
        The differences of each voice.
    """
    said = [_played(voices), _unchanged_guitar(every, comparisons), _guitars(every, comparisons)]
    found = [one for one in comparisons.confounds if one.found and one.kind in _MOVED]
    if found:
        kinds = dict.fromkeys(one.kind for one in found)
        out = {kind for rows in voices for row in rows for kind in row.adjusted_for}
        where = list(dict.fromkeys(voice_title(one.voice) for one in found if one.voice))
        named = f" ({listed(where[:3])})" if where and len(where) <= 3 else ""
        causes = listed([tr(_MOVED[kind]) for kind in kinds][:3]) + named
        said.append(
            tr("Between the recordings {causes}; what that explains is taken off.", causes=causes)
            if out.issuperset(kinds)
            else tr(
                "Between the recordings {causes}; that can explain part of what differs.",
                causes=causes,
            )
        )
    said.append(_open(voices))
    said.append(tr("Nothing here was judged by ear: it says what a listener may expect."))
    return tuple(text for text in said if text)


def _played(voices: Sequence[Sequence[Difference]]) -> str:
    plucked = [row for rows in voices for row in rows if row.quantity == "level_dbfs"]
    if not plucked:
        return ""
    fewest = min(min(row.n_before, row.n_after) for row in plucked)
    if all(row.played for row in plucked):
        if fewest < notes.TIMES_TO_PLAY:
            return tr("Too little was played to be sure: {times} times on a side.", times=fewest)
        return tr(
            "Each sound was played at least {times} times on each side; what is called a "
            "difference here is more than one time differs from the next.",
            times=fewest,
        )
    if fewest < notes.FEWEST_PLUCKS * notes.FEWEST_NOTES:
        return tr_n(
            "Too little was played to be sure: {n} plucked note on a side.",
            "Too little was played to be sure: {n} plucked notes on a side.",
            fewest,
        )
    return tr(
        "Each voice was plucked at least {times} times on each side; what is called a difference "
        "here is more than one pluck differs from the next.",
        times=fewest,
    )


def _unchanged_guitar(every: Sequence[Compared], comparisons: Comparisons) -> str:
    kinds = _notes(every, comparisons)
    taken = kinds.get(notes.CONTROL_TAKEN_OUT)
    if taken is not None:
        return tr(
            "{guitar}, a guitar nobody worked on, was recorded both times: what changed on it too "
            "is taken off.",
            guitar=taken.data[0],
        )
    other = {notes.SISTERS, notes.TWO_INSTRUMENTS} & kinds.keys()
    if notes.NO_CONTROL in kinds and not other:
        return tr(
            "No guitar that nobody worked on was recorded both times, so another cable, room or "
            "hand may hide in these numbers."
        )
    return ""


def _notes(every: Sequence[Compared], comparisons: Comparisons) -> dict[str, Note]:
    return {note.kind: note for one in every for note in comparisons.notes.get(one.name, ())}


def _guitars(every: Sequence[Compared], comparisons: Comparisons) -> str:
    """Warn where guitars are set against each other, of one model or not."""
    kinds = _notes(every, comparisons)
    if notes.SISTERS in kinds:
        return tr(
            "Sisters, two guitars of one model, differ before anyone touches them: of them this "
            "says what differs, not why."
        )
    if notes.TWO_INSTRUMENTS in kinds:
        return tr(
            "These are different guitars, which differ anyway: this says what differs, not why."
        )
    return ""


def _open(voices: Sequence[Sequence[Difference]]) -> str:
    """Name what the recordings cannot tell, by what a player asks."""
    asked = [
        tr(word)
        for quantity, word in _CANNOT_TELL.items()
        if any(row.quantity == quantity and row.verdict == "undecided" for r in voices for row in r)
    ]
    if not asked:
        return ""
    what = listed(asked)
    if len(voices) > 1:
        return tr("For some voices these recordings cannot tell whether {what} changed.", what=what)
    return tr("For this voice these recordings cannot tell whether {what} changed.", what=what)
