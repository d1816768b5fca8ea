"""Takes of riffs through the whole measuring: one row a passage, named and read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from played_riffs import Hand, random_riff, render_riff

from tonecompare.compare import compare_session
from tonecompare.compare.notes import OTHER_MUSIC
from tonecompare.measure.flags import with_flags_as_text
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import MeasuredRecording, collected, measure_recording
from tonecompare.report.files.clips import ClipWriter
from tonecompare.report.sounds.selection import sound_pairs
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.finding_words.compared_sides import Compared
from tonecompare.session import load_session
from tonecompare.session.model import ComparisonSpec, Session
from tonecompare.strings.instruments import humbucker

STEADY = Hand(passage_db=0.2, note_db=0.6)


def _take(path: Path, riff: int, *, seed: int, gain_db: float = 0.0) -> None:
    pickup = humbucker(45.0, sensitivity=0.5 * 10.0 ** (gain_db / 20.0))
    path.parent.mkdir(exist_ok=True)
    take, _ = render_riff(random_riff(riff), pickup, np.random.default_rng(seed), hand=STEADY)
    take.write(path)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> tuple[Session, list[MeasuredRecording]]:
    """A riff, the same through a pickup 3 dB louder, and another riff, each played four times."""
    root = tmp_path_factory.mktemp("riffs")
    _take(root / "before" / "bridge.wav", 801, seed=1)
    _take(root / "after" / "bridge.wav", 801, seed=2, gain_db=3.0)
    _take(root / "other" / "bridge.wav", 803, seed=2)
    session = load_session(root)
    return session, [measure_recording(session, each) for each in session.recordings]


def _of(recorded, *stages: str) -> tuple[Session, Measurements]:
    """Session and measurements of some stages, the first against the last."""
    session, measured = recorded
    taken = [one for one, each in enumerate(session.recordings) if each.stage in stages]
    of_stages = replace(
        session,
        stages={name: session.stages[name] for name in stages},
        recordings=tuple(session.recordings[one] for one in taken),
        comparisons=(ComparisonSpec(stages[0], stages[-1]),) if len(stages) > 1 else (),
    )
    return of_stages, collected([measured[one] for one in taken])


def test_a_riff_played_four_times_is_four_rows_and_a_louder_pickup_is_found(recorded) -> None:
    rows = compare_session(*_of(recorded, "before", "after")).differences
    level = rows[(rows["quantity"] == "level_dbfs") & (rows["note"] == "all")].iloc[0]
    assert (level["n_before"], level["n_after"]) == (4, 4)
    assert abs(level["difference"] - 3.0) < 0.8
    assert level["verdict"] == "likely-audible"
    assert "h01_db" not in set(rows["quantity"])


def test_clips_hold_the_whole_riff_of_both_sides(recorded, tmp_path: Path) -> None:
    session, measurements = _of(recorded, "before", "after")
    (pair,) = sound_pairs(session, measurements, longest_s=3.0)
    assert pair.note == "riff"
    assert 7.0 < pair.length_s < 9.0
    plucks = measurements.plucks
    begins = set((plucks["onset_s"] + plucks["riff_offset_s"]).round(6))
    assert {round(cut.onset_s, 6) for cut in (*pair.before, *pair.after)} <= begins
    voice = ("bridge", "magnetic")
    compared = Compared("", "before", "after", (), (voice,))
    clips = ClipWriter(session, plucks, tmp_path).voice(compared, voice)
    assert clips.notes == ("riff",)


def test_other_music_is_refused_in_a_sentence(recorded) -> None:
    comparisons = compare_session(*_of(recorded, "before", "other"))
    rows = comparisons.differences
    assert not len(rows[rows["n_notes"] > 0]) if len(rows) else True
    (notes,) = comparisons.notes.values()
    told = [note_sentence(note) for note in notes if note.kind == OTHER_MUSIC]
    assert len(told) == 1
    assert "not compared" in told[0]


@pytest.mark.parametrize("stage", ["before", "other"])
def test_a_measured_riff_says_what_it_is(recorded, stage: str) -> None:
    _, measurements = _of(recorded, stage)
    plucks = with_flags_as_text(measurements.plucks)
    assert list(plucks["note"]) == ["riff"] * 4
    assert list(plucks["event"]) == ["riff"] * 4
    assert plucks["level_dbfs"].notna().all()
    assert plucks["f0_hz"].isna().all()
    assert plucks["likeness"].iloc[1:].min() > 0.6
    assert plucks["flags"].str.contains("passage").all()
    assert plucks["flags"].str.contains(r"\b\d\d events").all()
