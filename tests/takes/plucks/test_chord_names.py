"""Chords by name: what any chord chart writes for these notes (common practice)."""

from __future__ import annotations

import pytest

from tonecompare.takes.plucks.chord_names import chord_name, is_chord

#: MIDI numbers of the usual open shapes in standard tuning, and their names.
SHAPES = {
    "E chord": (40, 47, 52, 56, 59, 64),
    "Em chord": (40, 47, 52, 55, 59, 64),
    "Am chord": (45, 52, 57, 60, 64),
    "C chord": (48, 52, 55, 60, 64),
    "C/G chord": (43, 48, 52, 55, 60, 64),
    "D7 chord": (50, 57, 60, 66),
    "Cmaj7 chord": (48, 52, 55, 59, 64),
    "Dsus4 chord": (50, 57, 62, 67),
    "A5 chord": (45, 52, 57),
    "Am7 chord": (45, 52, 55, 60, 64),
    "E+F+F# chord": (40, 53, 66),
}


@pytest.mark.parametrize(("name", "notes"), SHAPES.items())
def test_usual_shapes_have_their_usual_names(name: str, notes: tuple[int, ...]) -> None:
    assert chord_name(notes) == name
    assert chord_name(reversed(notes)) == name
    assert is_chord(name)


def test_one_note_in_octaves_is_no_chord() -> None:
    with pytest.raises(ValueError, match="two different notes"):
        chord_name((40, 52, 64))
    assert not is_chord("E2")
