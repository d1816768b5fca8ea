"""Sentences that hold for a whole comparison."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session

from tonecompare.compare import compare_session
from tonecompare.measure.model import FileRecord
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


@pytest.mark.parametrize(
    ("stages", "said"),
    [
        (("stock", "rewound"), "stock/bridge.wav and rewound/bridge.wav are one and the same file: "
         "set against each other they can only show no change"),
        (("stock", "stock"), "are one and the same file: its plucks count more than once"),
        (("stock", "elsewhere"), ""),
    ],
)  # fmt: skip
def test_the_same_file_twice_is_named(stages: tuple[str, str], said: str) -> None:
    files = tuple(
        FileRecord(f"{stage}/bridge.wav", "5e1f", 44100.0, 1, "PCM_16", 60.0, stage, "bridge", 30)
        for stage in stages
    )
    known = session("stock", "rewound", comparisons=[SPEC])
    made = replace(measurements(_levels("stock"), _levels("rewound")), files=files)
    notes = " ".join(compare_session(known, made).notes[SPEC.name])
    assert said in notes
    assert ("same file" in notes) == bool(said)
