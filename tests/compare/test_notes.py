"""What holds for a whole comparison, as facts."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session

from tonecompare.compare import compare_session, notes
from tonecompare.compare.model import Note
from tonecompare.measure.model import FileRecord
from tonecompare.session.model import ComparisonSpec

SPEC = ComparisonSpec("stock", "rewound")


def _levels(
    stage: str, notes: tuple[str, ...] = STRINGS, *, voice: str = "bridge", n: int = 5
) -> pd.DataFrame:
    values = {"level_dbfs": {note: [-20.0 + x for x in FIVE[:n]] for note in notes}}
    return plucks(stage, values, voice=voice)


def _notes(*frames: pd.DataFrame) -> tuple[Note, ...]:
    known = session("stock", "rewound", comparisons=[SPEC])
    return compare_session(known, measurements(*frames)).notes[SPEC.name]


def test_voices_of_one_stage_only_are_named() -> None:
    found = _notes(_levels("stock"), _levels("rewound"), _levels("rewound", voice="split"))
    assert Note(notes.ONLY_AT_ONE, ("rewound", ("split",))) in found


def test_too_few_notes() -> None:
    two = _notes(_levels("stock"), _levels("rewound", STRINGS[:2]))
    assert Note(notes.FEW_NOTES, (2, 3)) in two
    enough = _notes(_levels("stock"), _levels("rewound", STRINGS[:3]))
    assert notes.FEW_NOTES not in [note.kind for note in enough]


def test_too_few_plucks() -> None:
    few = Note(notes.FEW_PLUCKS, (3, 5))
    assert few in _notes(_levels("stock", n=2), _levels("rewound"))
    assert few not in _notes(_levels("stock", n=3), _levels("rewound"))


def test_one_session_each_is_always_said() -> None:
    found = _notes(_levels("stock"), _levels("rewound"))
    assert Note(notes.ONE_SESSION, ("stock", "rewound", 0)) in found
    assert Note(notes.NO_CONTROL) in found


@pytest.mark.parametrize(
    ("stages", "at_one"),
    [(("stock", "rewound"), False), (("stock", "stock"), True), (("stock", "elsewhere"), None)],
)
def test_the_same_file_twice_is_named(stages: tuple[str, str], at_one: bool | None) -> None:
    files = tuple(
        FileRecord(f"{stage}/bridge.wav", "5e1f", 44100.0, 1, "PCM_16", 60.0, stage, "bridge", 30)
        for stage in stages
    )
    known = session("stock", "rewound", comparisons=[SPEC])
    made = replace(measurements(_levels("stock"), _levels("rewound")), files=files)
    found = compare_session(known, made).notes[SPEC.name]
    names = tuple(record.file for record in files)
    expected = [] if at_one is None else [(names, at_one)]
    assert [note.data for note in found if note.kind == notes.SAME_FILE] == expected


def test_a_riff_is_not_scolded_for_being_one_note() -> None:
    riff = _notes(_levels("stock", ("riff",), n=4), _levels("rewound", ("riff",), n=3))
    kinds = [note.kind for note in riff]
    assert Note(notes.PLAYED, (1, 0, 4, 3, 4)) in riff
    assert notes.FEW_NOTES not in kinds
    assert notes.FEW_PLUCKS not in kinds


def test_chords_beside_notes_are_counted_and_notes_judged_as_ever() -> None:
    both = ("E2", "Em chord")
    found = _notes(_levels("stock", both), _levels("rewound", both))
    assert Note(notes.PLAYED, (0, 1, 5, 5, 4)) in found
    assert Note(notes.FEW_NOTES, (2, 3)) in found
