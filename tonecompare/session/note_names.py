"""Scientific pitch names: E2, F#3, Eb4, B-1, to and from MIDI note numbers.

C4 is MIDI note 60 and A4 is 69 (ISO 16 tunes A4 to 440 Hz). Names written by this package use
sharps and plain ASCII ("F#2"), so that equal notes have equal names.
"""

from __future__ import annotations

import re

from tonecompare.language import tr_later

_STEP = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHIFT = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_PATTERN = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d)")


def note_number(name: str) -> int:
    """Return the MIDI number of a note name.

    Parameters
    ----------
    name
        Letter A–G, then # or b if needed, then the octave: "E2", "F#3", "Bb1".

    Raises
    ------
    ValueError
        When the name is none; the message says how one is written.

    Examples
    --------
    >>> note_number("E2"), note_number("A4"), note_number("Cb4") == note_number("B3")
    (40, 69, True)
    """
    match = _PATTERN.fullmatch(name.strip())
    if match is None:
        raise ValueError(
            tr_later(
                '"{name}" is no note name ({likely})',
                name=name,
                likely=_likely_cause(name.strip()),
            )
        )
    letter, accidental, octave = match.groups()
    return 12 * (int(octave) + 1) + _STEP[letter.upper()] + _SHIFT[accidental]


def note_name(number: int) -> str:
    """Return the name of a MIDI note number, with sharps.

    Examples
    --------
    >>> note_name(40), note_name(54)
    ('E2', 'F#3')
    """
    return f"{_NAMES[number % 12]}{number // 12 - 1}"


def _likely_cause(name: str) -> str:
    if re.fullmatch(r"[A-Ga-g][#♯b♭]?", name):
        return tr_later('the octave is missing: "{name}2"?', name=name)
    if re.fullmatch(r"[Hh]-?\d", name):
        return tr_later('did you mean "{name}"?', name=f"B{name[1:]}")
    return tr_later("written as letter, # or b, octave: E2, F#3, Bb1")
