"""Note names against MIDI numbers (A4 = 69 = 440 Hz, C4 = 60: MIDI 1.0, from memory; librosa)."""

from __future__ import annotations

import pytest

from tonecompare.session import note_name, note_number
from tonecompare.session.naming import closest, listed, natural_key


@pytest.mark.parametrize(
    ("name", "number"),
    [("E2", 40), ("A2", 45), ("D3", 50), ("G3", 55), ("B3", 59), ("E4", 64), ("A4", 69),
     ("C4", 60), ("C-1", 0), ("F#1", 30), ("Bb1", 34), ("b♭1", 34), ("F♯3", 54)],
)  # fmt: skip
def test_known_numbers(name, number):
    assert note_number(name) == number


def test_octave_counts_from_c_even_for_raised_and_lowered_letters():
    assert note_number("B#3") == note_number("C4")
    assert note_number("Cb4") == note_number("B3")


def test_numbers_against_librosa():
    librosa = pytest.importorskip("librosa")
    for number in range(128):
        assert note_number(note_name(number)) == number
        assert librosa.note_to_midi(note_name(number)) == number


@pytest.mark.parametrize("name", ["", "E", "H2", "E2x", "2E", "Ebb2", "E22"])
def test_no_note_name(name):
    with pytest.raises(ValueError, match="is no note name"):
        note_number(name)


def test_names_sort_as_people_count():
    names = ["b10", "b9", "a", "10", "9", "B1"]
    assert sorted(names, key=natural_key) == ["9", "10", "a", "B1", "b9", "b10"]


def test_names_as_running_text():
    assert listed([]) == "none"
    assert listed(["a"]) == '"a"'
    assert listed(["a", "b", "c"], join="or") == '"a", "b" or "c"'
    assert listed("abcd", most=2) == '"a", "b" and 2 more'


def test_a_far_name_is_not_guessed():
    assert closest("tone", ["brightness", "sustain"]) is None
    assert closest("SUSTIAN", ["brightness", "sustain"]) == "sustain"
