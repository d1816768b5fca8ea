"""Sentences that hold for a whole comparison."""

from __future__ import annotations

import pandas as pd
from compare_frames import FIVE, STRINGS, measurements, plucks, session

from tonecompare.compare import compare_session
from tonecompare.session.model import ComparisonSpec

SPEC = ComparisonSpec("stock", "rewound")


def _levels(
    stage: str, notes: tuple[str, ...] = STRINGS, *, voice: str = "bridge", n: int = 5
) -> pd.DataFrame:
    values = {"level_dbfs": {note: [-20.0 + x for x in FIVE[:n]] for note in notes}}
    return plucks(stage, values, voice=voice)


def _notes(*frames: pd.DataFrame) -> str:
    known = session("stock", "rewound", comparisons=[SPEC])
    return " ".join(compare_session(known, measurements(*frames)).notes[SPEC.name])


def test_voices_of_one_stage_only_are_named() -> None:
    notes = _notes(_levels("stock"), _levels("rewound"), _levels("rewound", voice="split"))
    assert "Recorded only at rewound, so not compared: split. Voices match by file name." in notes


def test_too_few_notes() -> None:
    assert "Only 2 notes were recorded in both stages" in _notes(
        _levels("stock"), _levels("rewound", STRINGS[:2])
    )
    assert "Only 1 note was" in _notes(_levels("stock"), _levels("rewound", STRINGS[:1]))


def test_too_few_plucks() -> None:
    text = "Fewer than 3 plucks of each note"
    assert text in _notes(_levels("stock", n=2), _levels("rewound"))
    assert text not in _notes(_levels("stock", n=3), _levels("rewound"))


def test_one_session_each_is_always_said() -> None:
    notes = _notes(_levels("stock"), _levels("rewound"))
    assert "recorded in one session each" in notes
    assert "three times or more" in notes
