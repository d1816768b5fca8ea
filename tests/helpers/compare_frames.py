"""Hand-made tables for the tests of comparing: nothing random unless a generator is given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.measure.model import Measurements
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.session.model import ComparisonSpec, Session, Stage

STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")
#: Scatter with mean 0 and standard deviation 1 (n - 1) over five plucks.
FIVE = (-1.2649110640673518, -0.6324555320336759, 0.0, 0.6324555320336759, 1.2649110640673518)


def plucks(
    stage: str,
    values: Mapping[str, Mapping[str, Sequence[float]]],
    *,
    voice: str = "bridge",
    output: str = "magnetic",
) -> pd.DataFrame:
    """Rows of a stage from {column: {note: values of its plucks}}."""
    rows = []
    notes = list(dict.fromkeys(note for column in values.values() for note in column))
    for note in notes:
        count = max(len(column.get(note, ())) for column in values.values())
        for pluck in range(count):
            row: dict[str, object] = {"stage": stage, "voice": voice, "output": output}
            row |= {"note": note, "file": f"{stage}/{voice}.{note}.wav", "channel": 1}
            row["pluck"] = pluck + 1
            for name, column in values.items():
                at_note = column.get(note, ())
                row[name] = at_note[pluck] if pluck < len(at_note) else float("nan")
            rows.append(row)
    return _with_columns(pd.DataFrame(rows), MEASUREMENTS)


def quiet(
    stage: str,
    values: Mapping[str, Sequence[float]],
    *,
    voice: str = "bridge",
    output: str = "magnetic",
) -> pd.DataFrame:
    """Rows of a stage's quiet from {column: values of its stretches}."""
    frame = pd.DataFrame({name: list(column) for name, column in values.items()})
    frame["stage"], frame["voice"], frame["output"] = stage, voice, output
    frame["file"], frame["channel"] = f"{stage}/{voice}.wav", 1
    frame["start_s"] = [10.0 * k for k in range(len(frame))]
    return _with_columns(frame, QUIET)


def _with_columns(frame: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    extra = [name for name in frame.columns if name not in columns]
    return frame.reindex(columns=[*columns, *extra]).assign(flags=[()] * len(frame))


def measurements(*pluck_frames: pd.DataFrame, quiets: Sequence[pd.DataFrame] = ()) -> Measurements:
    """Join frames into measurements."""
    return Measurements(
        pd.concat(pluck_frames, ignore_index=True) if pluck_frames else _none(MEASUREMENTS),
        pd.concat(quiets, ignore_index=True) if quiets else _none(QUIET),
        _none(BLEND),
    )


def _none(columns: Sequence[str]) -> pd.DataFrame:
    return pd.DataFrame(columns=list(columns))


def session(
    *stages: Stage | str, comparisons: Sequence[ComparisonSpec] = (), **more: object
) -> Session:
    """Session of the stages; a bare name is a stage of the guitar "heron"."""
    known = [Stage(s, "heron", Path(s)) if isinstance(s, str) else s for s in stages]
    return Session(
        "test",
        Path(),
        {stage.name: stage for stage in known},
        (),
        comparisons=tuple(comparisons),
        **more,  # type: ignore[arg-type]
    )


def told_notes(result: Comparisons, comparison: str) -> str:
    """Return everything the report says of a whole comparison, in one text."""
    return " ".join(note_sentence(note) for note in result.notes[comparison])
