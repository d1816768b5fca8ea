"""What holds for a whole comparison, a sentence each: what it shows, what could hide in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare import notes
from tonecompare.compare.model import Note
from tonecompare.language import tr, tr_n
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, number


def note_sentence(note: Note) -> str:
    """Return the sentence of one note.

    Parameters
    ----------
    note
        Kind and data, as :mod:`tonecompare.compare.notes` makes them.

    Raises
    ------
    KeyError
        When the kind is none of that module.

    Examples
    --------
    >>> note_sentence(Note("not-measured", ("rewound",)))
    'Stage rewound has no measured recording: nothing can be compared with it.'
    """
    return _SENTENCES[note.kind](*note.data)


def _not_measured(stage: str) -> str:
    return tr(
        "Stage {stage} has no measured recording: nothing can be compared with it.", stage=stage
    )


def _only_at_one(stage: str, voices: tuple[str, ...]) -> str:
    return tr(
        "Recorded only at {stage}, so not compared: {voices}. Voices match by file name.",
        stage=stage,
        voices=", ".join(voices),
    )


def _other_music(voice: str, alike: float, needed: float) -> str:
    return tr(
        "{voice}: two different pieces of music were played ({alike} % alike, {needed} % are "
        "needed), so they are not compared. Play the same riff both times.",
        voice=voice_title(voice),
        alike=round(100 * alike),
        needed=round(100 * needed),
    )


def _same_file(files: tuple[str, ...], at_one_stage: bool) -> str:
    same = listed(list(files))
    if at_one_stage:
        return tr(
            "{files} are one and the same file: its plucks count more than once, which makes "
            "intervals too narrow.",
            files=same,
        )
    return tr(
        "{files} are one and the same file: set against each other they can only show no change. "
        "Was one copied by mistake?",
        files=same,
    )


def _two_instruments(one: str, other: str) -> str:
    return tr(
        "{one} and {other} are two guitars, which differ before anyone touches them: this says "
        "what differs, not why. Only the same guitar recorded before the work, or at least three "
        "unmodified guitars of its model, could say more.",
        one=one,
        other=other,
    )


def _sisters(one: str, other: str | tuple[str, ...], model: str, unmodified: int) -> str:
    others = (other,) if isinstance(other, str) else other
    who = listed(list(others))
    set_against = tr_n(
        "{who} is set against its sister {one}: two guitars of one model ({model}) differ before "
        "anyone touches them, so this says what differs, not why.",
        "{who} are set against their sister {one}: two guitars of one model ({model}) differ "
        "before anyone touches them, so this says what differs, not why.",
        len(others),
        who=who,
        one=one,
        model=model,
    )
    if unmodified:
        more = tr(
            "{n} unmodified ones were recorded; how far they differ among themselves stands in the "
            "table of guitars.",
            n=unmodified,
        )
    else:
        more = tr_n(
            "Only {who} itself recorded before the work, or at least three unmodified ones, could "
            "say more.",
            "Only {who} themselves recorded before the work, or at least three unmodified ones, "
            "could say more.",
            len(others),
            who=who,
        )
    return f"{set_against} {more}"


def _no_control() -> str:
    return tr(
        "No unchanged instrument was recorded in both sessions. Another gain, cable, room or "
        "place, older strings or another hand could hide in every difference shown."
    )


def _control_unusable(name: str) -> str:
    return tr(
        "{name} was to be the control but gives no usable drift (it needs at least two notes "
        "recorded in both sessions): nothing was taken out.",
        name=name,
    )


def _control_taken_out(name: str, quantities: tuple[str, ...]) -> str:
    spoken = [column for column in quantities if column in (*HEADLINE, *BAND_SHAPES)]
    labels = [words_for(column).compared for column in spoken or quantities]
    moved = ", ".join(dict.fromkeys(labels))
    said = tr(
        "Differences are taken against {name}, which was left unchanged and recorded in both "
        "sessions; its own drift is taken out of them.",
        name=name,
    )
    drift = (
        tr("Between the sessions it moved in: {moved}.", moved=moved)
        if moved
        else tr("It shows no drift itself.")
    )
    return f"{said} {drift}"


def _control_gain(size_db: float) -> str:
    return tr(
        "The control's hiss and level moved together, by {size} dB: the gain was different in the "
        "second session. That goes out with its drift.",
        size=number(size_db, 1, signed=True),
    )


def _one_session(before: str, after: str, repeated: int) -> str:
    said = tr(
        "{before} and {after} were recorded in one session each. The intervals say what picking "
        "and notes explain within these sessions; what another day would bring is not in them.",
        before=before,
        after=after,
    )
    if repeated:
        more = tr_n(
            "{n} stage was recorded again without any work in between; “Recorded again without "
            "work” shows what that alone changed.",
            "{n} stages were recorded again without any work in between; “Recorded again without "
            "work” shows what that alone changed.",
            repeated,
        )
    else:
        more = tr("A claim about the work alone needs the set-up made anew, three times or more.")
    return f"{said} {more}"


def _one_sitting() -> str:
    return tr(
        "The voices were recorded in one sitting: strings, gain, cable and room were the same. "
        "The hand was not: where and how hard it picked is looked at."
    )


def _voice_and_stage(one: str, other: str) -> str:
    return tr(
        "One voice is of {one}, the other of {other}: what differs may come from the voice or from "
        "what else lies between the two recordings.",
        one=one,
        other=other,
    )


def _few_notes(found: int, fewest: int) -> str:
    return tr_n(
        "Only {n} note was recorded on both sides: too few to say anything about the notes as a "
        "whole. Record at least {fewest}, better one on each string.",
        "Only {n} notes were recorded on both sides: too few to say anything about the notes as a "
        "whole. Record at least {fewest}, better one on each string.",
        found,
        fewest=fewest,
    )


def _few_plucks(fewest: int, to_record: int) -> str:
    return tr(
        "Fewer than {fewest} plucks of each note: single notes can hardly be judged. Record "
        "{enough}.",
        fewest=fewest,
        enough=to_record,
    )


def _played(riffs: int, chords: int, before: int, after: int, to_play: int) -> str:
    """Say what was played instead of single notes, and what it does not speak for."""
    kinds = []
    if riffs:
        kinds.append(tr_n("one riff", "{n} riffs", riffs))
    if chords:
        kinds.append(tr_n("one chord", "{n} chords", chords))
    several = riffs + chords > 1
    how_often = (
        tr_n("{n} time on each side", "{n} times on each side", before)
        if before == after
        else tr(
            "{before} on one side and {after} on the other",
            before=tr_n("{n} time", "{n} times", before),
            after=tr_n("{n} time", "{n} times", after),
        )
    )
    if not chords:
        other = tr("another riff could show other things")
    elif not riffs:
        other = tr("another chord could show other things")
    else:
        other = tr("other music could show other things")
    told = {"music": listed(kinds), "how_often": how_often, "other": other}
    if several:
        said = tr("Judged on {music}, each played at least {how_often}; {other}.", **told)
    else:
        said = tr("Judged on {music}, played {how_often}; {other}.", **told)
    if min(before, after) >= to_play:
        return said
    more = (
        tr("Play each {n} times or more on each side.", n=to_play)
        if several
        else tr("Play it {n} times or more on each side.", n=to_play)
    )
    return f"{said} {more}"


def _one_stretch() -> str:
    return tr(
        "A single quiet stretch of a voice shows how hum wanders while it lasts, but not what "
        "moves between stretches: a guitar turned a little, or held elsewhere, hums differently "
        "by itself. Two stretches or more, held in the same way, would show it."
    )


_SENTENCES: Mapping[str, Callable[..., str]] = {
    notes.NOT_MEASURED: _not_measured,
    notes.ONLY_AT_ONE: _only_at_one,
    notes.OTHER_MUSIC: _other_music,
    notes.SAME_FILE: _same_file,
    notes.TWO_INSTRUMENTS: _two_instruments,
    notes.SISTERS: _sisters,
    notes.NO_CONTROL: _no_control,
    notes.CONTROL_UNUSABLE: _control_unusable,
    notes.CONTROL_TAKEN_OUT: _control_taken_out,
    notes.CONTROL_GAIN: _control_gain,
    notes.ONE_SESSION: _one_session,
    notes.ONE_SITTING: _one_sitting,
    notes.VOICE_AND_STAGE: _voice_and_stage,
    notes.FEW_NOTES: _few_notes,
    notes.FEW_PLUCKS: _few_plucks,
    notes.PLAYED: _played,
    notes.ONE_STRETCH: _one_stretch,
}
