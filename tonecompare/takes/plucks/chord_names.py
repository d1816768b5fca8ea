"""Names of chords: root and kind from the notes that sound, as chord charts write them."""

from __future__ import annotations

from collections.abc import Iterable

from tonecompare.session.note_names import note_name

#: Semitones over the root, and what is written behind it; the plainer name stands first.
_KINDS: tuple[tuple[frozenset[int], str], ...] = tuple(
    (frozenset(steps), written)
    for steps, written in (
        ((0, 7), "5"),
        ((0, 4, 7), ""),
        ((0, 3, 7), "m"),
        ((0, 4, 7, 10), "7"),
        ((0, 3, 7, 10), "m7"),
        ((0, 4, 7, 11), "maj7"),
        ((0, 5, 7), "sus4"),
        ((0, 2, 7), "sus2"),
        ((0, 3, 6), "dim"),
        ((0, 4, 8), "aug"),
        ((0, 4, 10), "7"),
        ((0, 4, 7, 9), "6"),
        ((0, 3, 7, 9), "m6"),
        ((0, 2, 4, 7), "add9"),
        ((0, 2, 4, 7, 10), "9"),
        ((0, 2, 3, 7, 10), "m9"),
        ((0, 4, 7, 10, 3), "7#9"),
        ((0, 5, 7, 10), "7sus4"),
        ((0, 3, 6, 10), "m7b5"),
        ((0, 3, 6, 9), "dim7"),
        ((0, 3, 7, 11), "m(maj7)"),
    )
)
#: What every name of a chord ends in, so that none is taken for a note.
CHORD = " chord"


def chord_name(notes: Iterable[int]) -> str:
    """Name a chord by the notes that sound: "E chord", "Am7 chord", "C/G chord".

    The lowest note is tried as the root first. Where another is the root the lowest stands behind
    a stroke. Without a name of its own a chord is called by its notes, lowest first: "E+F+B chord".

    Parameters
    ----------
    notes
        MIDI numbers, any order; octaves of a note add nothing to the name.

    Raises
    ------
    ValueError
        Without two different notes.

    Examples
    --------
    >>> chord_name([40, 47, 52, 56, 59, 64]), chord_name([43, 48, 52]), chord_name([40, 41])
    ('E chord', 'C/G chord', 'E+F chord')
    """
    sounding = sorted(set(notes))
    classes = list(dict.fromkeys(number % 12 for number in sounding))
    if len(classes) < 2:
        raise ValueError("a chord has two different notes or more")
    bass = classes[0]
    for root in classes:
        steps = frozenset((each - root) % 12 for each in classes)
        for kind, written in _KINDS:
            if steps == kind:
                over = "" if root == bass else f"/{_letter(bass)}"
                return f"{_letter(root)}{written}{over}{CHORD}"
    return "+".join(_letter(each) for each in classes) + CHORD


def is_chord(name: str) -> bool:
    """Whether what a pluck is called is the name of a chord."""
    return name.endswith(CHORD)


def _letter(pitch_class: int) -> str:
    return note_name(pitch_class + 12).rstrip("0")
