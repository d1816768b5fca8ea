"""A whole session: one recording that breaks the measuring leaves the others measured."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tonecompare.errors import SessionError
from tonecompare.measure import session as measuring
from tonecompare.measure.flags import Flag
from tonecompare.session.model import Recording, Session, Stage


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """Two files with a second of quiet and one plucked 220 Hz note each."""
    time_s = np.arange(48000) / 48000.0
    note = 0.3 * np.exp(-2.0 * time_s) * np.sin(2.0 * np.pi * 220.0 * time_s)
    hiss = 1e-5 * np.random.default_rng(2).standard_normal(96000)
    for name in ("neck", "bridge"):
        sf.write(tmp_path / f"{name}.wav", np.concatenate([np.zeros(48000), note]) + hiss, 48000)
    recordings = tuple(
        Recording("wren", name, (tmp_path / f"{name}.wav",)) for name in ("neck", "bridge")
    )
    return Session("t", tmp_path, {"wren": Stage("wren", "wren", tmp_path)}, recordings)


def test_a_fault_in_one_recording_is_named_and_the_rest_goes_on(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = measuring.measure_recording

    def breaking(session: Session, recording: Recording) -> object:
        if recording.voice == "neck":
            raise ZeroDivisionError("a bug of ours")
        return whole(session, recording)

    monkeypatch.setattr(measuring, "measure_recording", breaking)
    measured = measuring.measure_session(session)
    assert list(measured.plucks["voice"]) == ["bridge"]
    (left,) = measured.left_out
    assert left.file == "neck.wav"
    assert "a fault in tonecompare (ZeroDivisionError: a bug of ours)" in left.reason


def test_a_fault_of_the_input_still_stops_the_run(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refusing(_session: Session, _recording: Recording) -> object:
        raise SessionError("takes.csv names no column")

    monkeypatch.setattr(measuring, "measure_recording", refusing)
    with pytest.raises(SessionError, match=r"takes\.csv names no column"):
        measuring.measure_session(session)


def test_rows_stand_in_the_order_of_the_recordings(session: Session) -> None:
    measured = measuring.measure_session(session)
    assert list(measured.plucks["voice"]) == ["neck", "bridge"]
    assert list(measured.plucks["note"]) == ["A3", "A3"]
    assert [record.file for record in measured.files] == ["neck.wav", "bridge.wav"]


def test_the_quiet_of_a_file_of_the_same_rate_stands_in(tmp_path: Path) -> None:
    # Three files of one voice: quiet at 44.1 kHz, quiet at 48 kHz, and at 48 kHz a note alone.
    files = []
    for number, (rate_hz, quiet_s) in enumerate(
        ((44100, 1.0), (48000, 1.0), (48000, 0.0)), start=1
    ):
        time_s = np.arange(rate_hz) / rate_hz
        note = 0.3 * np.exp(-2.0 * time_s) * np.sin(2.0 * np.pi * 220.0 * time_s)
        x = np.concatenate([np.zeros(round(quiet_s * rate_hz)), note])
        x += 1e-5 * np.random.default_rng(number).standard_normal(x.size)
        files.append(tmp_path / f"neck.{number}.wav")
        sf.write(files[-1], x, rate_hz, subtype="FLOAT")
    recording = Recording("wren", "neck", tuple(files))
    known = Session("t", tmp_path, {"wren": Stage("wren", "wren", tmp_path)}, (recording,))
    plucks = measuring.measure_session(known).plucks
    assert list(plucks["file"]) == ["neck.1.wav", "neck.2.wav", "neck.3.wav"]
    assert plucks["snr_db"].notna().all()
    assert Flag("no-quiet") in plucks["flags"].iloc[2]
