"""What holds for a whole comparison, a sentence each: what it shows, what could hide in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare import notes
from tonecompare.compare.model import Note
from tonecompare.quantities.compared import quantity_of
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import count, listed, number


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
    return f"Stage {stage} has no measured recording: nothing can be compared with it."


def _only_at_one(stage: str, voices: tuple[str, ...]) -> str:
    return (
        f"Recorded only at {stage}, so not compared: {', '.join(voices)}. Voices match by "
        "file name."
    )


def _other_music(voice: str, alike: float, needed: float) -> str:
    return (
        f"{voice_title(voice)}: two different pieces of music were played ({round(100 * alike)} % "
        f"alike, {round(100 * needed)} % are needed), so they are not compared. Play the same riff "
        "both times."
    )


def _same_file(files: tuple[str, ...], at_one_stage: bool) -> str:
    return f"{' and '.join(files)} are one and the same file: " + (
        "its plucks count more than once, which makes intervals too narrow."
        if at_one_stage
        else "set against each other they can only show no change. Was one copied by mistake?"
    )


def _two_instruments(one: str, other: str) -> str:
    return (
        f"{one} and {other} are two guitars, which differ before anyone touches them: this says "
        "what differs, not why. Only the same guitar recorded before the work, or at least three "
        "unmodified guitars of its model, could say more."
    )


def _sisters(one: str, other: str | tuple[str, ...], model: str, unmodified: int) -> str:
    others = (other,) if isinstance(other, str) else other
    who = listed(list(others))
    are, its, self = ("is", "its", "itself") if len(others) == 1 else ("are", "their", "themselves")
    return (
        f"{who} {are} set against {its} sister {one}: two guitars of one model ({model}) differ "
        "before anyone touches them, so this says what differs, not why. "
        + (
            f"{unmodified} unmodified ones were recorded; how far they differ among themselves "
            "stands in the table of guitars."
            if unmodified
            else f"Only {who} {self} recorded before the work, or at least three unmodified "
            "ones, could say more."
        )
    )


def _no_control() -> str:
    return (
        "No unchanged instrument was recorded in both sessions. Another gain, cable, room or "
        "place, older strings or another hand could hide in every difference shown."
    )


def _control_unusable(name: str) -> str:
    return (
        f"{name} was to be the control but gives no usable drift (it needs at least two notes "
        "recorded in both sessions): nothing was taken out."
    )


def _control_taken_out(name: str, quantities: tuple[str, ...]) -> str:
    spoken = [column for column in quantities if column in (*HEADLINE, *BAND_SHAPES)]
    labels = [quantity_of(column).label for column in spoken or quantities]
    moved = ", ".join(dict.fromkeys(labels))
    return (
        f"Differences are taken against {name}, which was left unchanged and recorded in both "
        "sessions; its own drift is taken out of them. "
        + (f"Between the sessions it moved in: {moved}." if moved else "It shows no drift itself.")
    )


def _control_gain(size_db: float) -> str:
    return (
        f"The control's hiss and level moved together, by {number(size_db, 1, signed=True)} dB: "
        "the gain was another in the second session. That goes out with its drift."
    )


def _one_session(before: str, after: str, repeated: int) -> str:
    return (
        f"{before} and {after} were recorded in one session each. The intervals say what "
        "picking and notes explain within these sessions; what another day would bring is not in "
        "them. "
        + (
            f"{repeated} stage{' was' if repeated == 1 else 's were'} recorded again without any "
            "work in between; “Recorded again without work” below shows what that alone changed."
            if repeated
            else "A claim about the work alone needs the set-up made anew, three times or more."
        )
    )


def _one_sitting() -> str:
    return (
        "The voices were recorded in one sitting: strings, gain, cable and room were the same. "
        "The hand was not: where and how hard it picked is looked at."
    )


def _voice_and_stage(one: str, other: str) -> str:
    return (
        f"One voice is of {one}, the other of {other}: what differs may come from the voice or "
        "from what else lies between the two recordings."
    )


def _few_notes(found: int, fewest: int) -> str:
    return (
        f"Only {found} {'note was' if found == 1 else 'notes were'} recorded on both sides: "
        f"too few to say anything over the notes. Record at least {fewest}, better one on each "
        "string."
    )


def _few_plucks(fewest: int, to_record: int) -> str:
    return (
        f"Fewer than {fewest} plucks of each note: single notes can hardly be judged. Record "
        f"{to_record}."
    )


def _played(riffs: int, chords: int, before: int, after: int, to_play: int) -> str:
    """Say what was played instead of single notes, and what it does not speak for."""
    kinds = [
        f"{'one' if number == 1 else number} {kind}{'' if number == 1 else 's'}"
        for number, kind in ((riffs, "riff"), (chords, "chord"))
        if number
    ]
    several = riffs + chords > 1
    how_often = (
        f"{count(before, 'time')} on each side"
        if before == after
        else (f"{count(before, 'time')} on one side and {count(after, 'time')} on the other")
    )
    other = "another riff" if not chords else "another chord" if not riffs else "other music"
    each = "each played at least" if several else "played"
    said = f"Judged on {' and '.join(kinds)}, {each} {how_often}; {other} could show other things."
    if min(before, after) < to_play:
        said += f" Play {'each' if several else 'it'} {to_play} times or more on each side."
    return said


def _one_stretch() -> str:
    return (
        "A single quiet stretch of a voice shows how hum wanders while it lasts, but not what "
        "moves between stretches: a guitar turned a little, or held elsewhere, hums otherwise "
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
