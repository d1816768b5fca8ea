"""A file read in parts measures as one read whole, and takes the memory it may."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import long_take
import numpy as np
import pytest
import soundfile as sf
from small_takes import take, write

from tonecompare.errors import RecordingError
from tonecompare.front.run import session_of_files
from tonecompare.measure import measure_session
from tonecompare.measure import session as measuring
from tonecompare.session import load_session
from tonecompare.takes import file_samples, read
from tonecompare.takes.file_samples import FileSamples


@pytest.fixture
def in_parts(monkeypatch):
    monkeypatch.setattr(read, "_LARGEST_WHOLE", 0)
    for module in (read, file_samples):
        monkeypatch.setattr(module, "BLOCK", 1 << 13)


@pytest.mark.parametrize(
    ("ending", "subtype"), [("wav", "PCM_24"), ("flac", "PCM_16"), ("aiff", "FLOAT")]
)
def test_parts_are_those_of_the_whole(tmp_path, in_parts, ending, subtype):
    path = tmp_path / f"a.{ending}"
    once = take(repeats=1)
    write(path, np.stack([once, -0.5 * once]), subtype=subtype)
    whole, _ = sf.read(path, always_2d=True)
    parts = read.read_audio(path).samples
    assert isinstance(parts, FileSamples)
    assert parts.shape == whole.T.shape
    np.testing.assert_array_equal(parts[:, 5000:50_000], whole[5000:50_000].T)
    np.testing.assert_array_equal(parts[1, 7:9], whole[7:9, 1])
    np.testing.assert_array_equal(parts[1][-100:], whole[-100:, 1])
    index = np.array([[3, 9000], [8191, 8192]])
    np.testing.assert_array_equal(parts[0][index], whole[index, 0])
    assert parts[1][20_000] == whole[20_000, 1]
    np.testing.assert_allclose(parts.mean(axis=1), whole.mean(axis=0), atol=1e-15)


def test_a_file_read_in_parts_measures_the_same(tmp_path, monkeypatch):
    once = take(repeats=2)
    write(tmp_path / "a.wav", np.stack([once, 0.6 * np.roll(once, 5)]))
    session = session_of_files([tmp_path / "a.wav"])
    whole = measure_session(session)
    monkeypatch.setattr(read, "_LARGEST_WHOLE", 0)
    parts = measure_session(session)
    for name in ("plucks", "quiet", "blend", "voices"):
        one, other = (getattr(each, name).select_dtypes("number") for each in (whole, parts))
        np.testing.assert_allclose(one.to_numpy(float), other.to_numpy(float), rtol=1e-7)


@pytest.mark.parametrize(
    ("seconds", "said"), [(2.5 * 3600, r"lasts 2\.5 hours"), (1800, "unfolds .* kB to 30 minutes")]
)
def test_hours_and_blown_up_silence_are_refused_before_they_are_read(tmp_path, seconds, said):
    path = tmp_path / "a.flac"
    with sf.SoundFile(path, "w", 8000, 1, subtype="PCM_16") as file:
        for _ in range(round(seconds / 300)):
            file.write(np.zeros(300 * 8000, dtype=np.int16))
    with pytest.raises(RecordingError, match=said):
        read.read_audio(path)


@pytest.mark.long
def test_memory_stays_far_under_the_size_of_a_long_file(tmp_path: Path) -> None:
    # At most 350 MiB and 1.5 times the file, and far less: 10 minutes of stereo at 96 kHz took
    # 281 MiB when this was written, an hour 541.
    mib = {}
    for minutes in (10, 20):  # from 6 on no more noise is kept
        path = tmp_path / f"{minutes}.wav"
        long_take.write_long(path, minutes, 96_000)
        ran = subprocess.run(
            [sys.executable, long_take.__file__, "--measure", str(path)],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        size, mib[minutes], _, plucks, left_out = map(float, ran.stdout.split())
        assert (plucks > 50 * minutes, left_out) == (True, 0)
        assert mib[minutes] < 350 + 1.5 * size
    a_minute = (mib[20] - mib[10]) / 10
    assert a_minute < 0.3 * size / 20
    assert mib[20] + 40 * a_minute < 600  # an hour, taken on


@pytest.mark.parametrize("change", ["gone", "shorter", "another", "longer"])
def test_a_file_that_changes_while_it_is_read_is_left_out_by_name(tmp_path, monkeypatch, change):
    """Samples of two files must never become one take's."""
    monkeypatch.setattr(read, "_LARGEST_WHOLE", 0)
    session = tmp_path / "s"
    for voice in ("neck", "bridge"):
        write(session / "stock" / f"{voice}.wav", take(notes=("A2",), repeats=1))
    real, path = measuring.load_takes, session / "stock" / "neck.wav"

    def changed(told, recording):
        found = real(told, recording)
        if recording.voice == "neck":
            content = path.read_bytes()
            path.unlink()
            if change != "gone":
                other = {"shorter": content[:-90_000], "another": content[::-1],
                         "longer": content + bytes(90_000)}  # fmt: skip
                path.write_bytes(other[change])
        return found

    monkeypatch.setattr(measuring, "load_takes", changed)
    found = measuring.measure_session(load_session(session))
    assert [one.file for one in found.left_out] == ["stock/neck.wav"]
    assert "was changed or removed while it was read" in str(found.left_out[0].reason).lower()
    assert set(found.plucks["voice"]) == {"bridge"}
