"""Tunings by name and note by note."""

from __future__ import annotations

from pathlib import Path

import pytest

from tonecompare.errors import InputError
from tonecompare.session.model import Instrument, Session, Stage
from tonecompare.session.tunings import parse_tuning, with_tuning


@pytest.mark.parametrize(
    ("given", "notes"),
    [
        ("bass", ("E1", "A1", "D2", "G2")),
        (" Bass ", ("E1", "A1", "D2", "G2")),
        ("B0,E1,A1,D2,G2", ("B0", "E1", "A1", "D2", "G2")),
        ("five-string-bass", ("B0", "E1", "A1", "D2", "G2")),
        ("seven-string", ("B1", "E2", "A2", "D3", "G3", "B3", "E4")),
        ("D2 A2 D3 G3 Bb3 D4", ("D2", "A2", "D3", "G3", "A#3", "D4")),
        (["G4", "C4", "E4", "A4"], ("G4", "C4", "E4", "A4")),  # lowest string need not be lowest
    ],
)
def test_names_and_notes_are_understood(given, notes):
    assert parse_tuning(given) == notes


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("bas", 'Did you mean "bass"'),
        ("E2,H2", '"H2" is no note name'),
        ("E,A,D,G", "octave is missing"),
        ("", "lowest first"),
        ("E4,B3,G3", "runs from E4 down to G3"),
        (",".join(["E2"] * 25), "lowest first"),
    ],
)
def test_what_is_no_tuning_is_said_with_what_is(given, said):
    with pytest.raises(InputError, match=said):
        parse_tuning(given)


def test_every_instrument_of_a_session_gets_it_and_keeps_the_rest():
    stages = {"a": Stage("a", "heron", Path("a")), "b": Stage("b", "", Path("b"))}
    session = Session("t", Path(), stages, (), {"heron": Instrument("heron", 864.0)})
    bass = with_tuning(session, "bass")
    assert bass.instrument_of("a") == Instrument("heron", 864.0, ("E1", "A1", "D2", "G2"))
    assert bass.instrument_of("b").tuning == ("E1", "A1", "D2", "G2")
    assert with_tuning(session, None) is session
