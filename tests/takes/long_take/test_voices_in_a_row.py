"""One long recording of several voices, cut where the long pauses are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tonecompare.errors import InputError
from tonecompare.takes.long_take.voices_in_a_row import cut_voices, marks_between

RATE_HZ = 8000


def _long(path: Path, pauses_s: tuple[float, ...], *, inside_s: float = 1.5) -> np.ndarray:
    """Three tones of 2 s a voice, ``inside_s`` apart, voices ``pauses_s`` apart, over a hiss."""
    rng = np.random.default_rng(1)
    parts, tone = [np.zeros(8 * RATE_HZ)], 0.3 * np.sin(np.arange(2 * RATE_HZ) * 0.3)
    for pause_s in (*pauses_s, 6.0):
        for _ in range(3):
            parts += [tone, np.zeros(round(inside_s * RATE_HZ))]
        parts.append(np.zeros(round((pause_s - inside_s) * RATE_HZ)))
    samples = np.concatenate(parts)
    samples += 1e-4 * rng.standard_normal(samples.size)
    sf.write(path, samples, RATE_HZ, subtype="PCM_24")
    return samples


@pytest.mark.parametrize("samples", [0, 100])
def test_a_recording_without_a_whole_frame_is_said_to_hold_too_few_pauses(
    tmp_path: Path, samples: int
) -> None:
    sf.write(tmp_path / "all.wav", np.full(samples, 0.1), RATE_HZ)
    with pytest.raises(InputError, match="too few pauses"):
        cut_voices(tmp_path / "all.wav", ("bridge", "neck"), tmp_path / "heron")


def test_each_voice_gets_its_sounds_and_the_quiet_before_them(tmp_path: Path) -> None:
    whole = _long(tmp_path / "all.wav", (9.0, 7.0))
    voices = ("bridge", "neck", "bridge-again")
    parts = cut_voices(tmp_path / "all.wav", voices, tmp_path / "heron")
    assert [part.path.name for part in parts] == [f"{voice}.wav" for voice in voices]
    assert [part.pause_s for part in parts] == pytest.approx([0.0, 9.0, 7.0], abs=0.05)
    # Three tones of 2 s and two pauses of 1.5 s are 9 s: sound from 8 to 17 and from 26 to 35 s; a
    # second of the pause stays behind.
    assert [part.end_s for part in parts[:2]] == pytest.approx([18.0, 36.0], abs=0.05)
    written = np.concatenate([sf.read(part.path)[0] for part in parts])
    np.testing.assert_allclose(written, whole, atol=2.0**-23)
    assert {sf.info(part.path).subtype for part in parts} == {"PCM_24"}


@pytest.mark.parametrize(
    ("pauses_s", "inside_s", "said"),
    [((9.0, 3.0), 1.5, "lie between sounds: 1."), ((9.0, 6.0), 5.0, "do not tell where 3 voices")],
)
def test_where_pauses_leave_a_doubt_nothing_is_written(
    tmp_path: Path, pauses_s: tuple[float, ...], inside_s: float, said: str
) -> None:
    _long(tmp_path / "all.wav", pauses_s, inside_s=inside_s)
    with pytest.raises(InputError, match=said):
        cut_voices(tmp_path / "all.wav", ("bridge", "middle", "neck"), tmp_path / "heron")
    assert not (tmp_path / "heron").exists()


def test_a_click_of_the_selector_is_no_sound(tmp_path: Path) -> None:
    samples = _long(tmp_path / "quiet.wav", (9.0,))
    samples[round(20.0 * RATE_HZ)] = 0.5
    sf.write(tmp_path / "all.wav", samples, RATE_HZ)
    parts = cut_voices(tmp_path / "all.wav", ("bridge", "neck"), tmp_path / "heron")
    assert parts[1].pause_s == pytest.approx(9.0, abs=0.05)


def test_files_that_are_there_stay(tmp_path: Path) -> None:
    _long(tmp_path / "all.wav", (9.0,))
    (tmp_path / "neck.wav").write_bytes(b"mine")
    with pytest.raises(InputError, match="exists already"):
        cut_voices(tmp_path / "all.wav", ("bridge", "neck"), tmp_path)
    assert not (tmp_path / "bridge.wav").exists()


def test_what_is_no_sound_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "all.wav").write_bytes(b"no sound")
    with pytest.raises(InputError, match="is not audio: it holds text"):
        cut_voices(tmp_path / "all.wav", ("bridge", "neck"), tmp_path / "heron")


def _tapped(path: Path, taps: int, *, at_s: tuple[float, ...] = (0.0, 0.4, 0.85)) -> np.ndarray:
    """Three voices of three tones, 3 s apart throughout, with knocks in the pauses between."""
    rng = np.random.default_rng(2)
    tone, quiet = 0.3 * np.sin(np.arange(2 * RATE_HZ) * 0.3), np.zeros(3 * RATE_HZ)
    parts, knocks_s = [quiet], []
    for voice in range(3):
        for _ in range(3):
            parts += [tone, quiet]
        if voice < 2:
            knocks_s.append(sum(map(len, parts)) / RATE_HZ)
            parts += [quiet, quiet]
    samples = np.concatenate(parts)
    fall = np.exp(-np.arange(round(0.08 * RATE_HZ)) / (0.015 * RATE_HZ))
    for begin_s in knocks_s[:taps]:
        for tap_s in at_s:
            start = round((begin_s + tap_s) * RATE_HZ)
            samples[start : start + fall.size] += 0.2 * fall * rng.standard_normal(fall.size)
    samples += 1e-4 * rng.standard_normal(samples.size)
    sf.write(path, samples, RATE_HZ, subtype="PCM_24")
    return samples


def test_three_taps_part_voices_whatever_the_pauses(tmp_path: Path) -> None:
    whole = _tapped(tmp_path / "all.wav", 2)
    parts = cut_voices(tmp_path / "all.wav", ("bridge", "middle", "neck"), tmp_path / "heron")
    assert [part.tapped for part in parts] == [False, True, True]
    # 3 s of quiet, three tones of 2 s and 3 s of quiet each: the first voice ends at 18 s, where
    # the first tap is; the next begins behind the third one, 0.85 s later.
    assert [part.end_s for part in parts[:2]] == pytest.approx([18.0, 39.0], abs=0.05)
    assert [part.start_s for part in parts[1:]] == pytest.approx([18.97, 39.97], abs=0.12)
    for part in parts:
        written = sf.read(part.path)[0]
        start = round(part.start_s * RATE_HZ)
        np.testing.assert_allclose(written, whole[start : start + written.size], atol=2.0**-23)
        # Three tones each: the taps are in no file.
        loud = np.abs(written).reshape(-1, 40).max(axis=1) > 0.02
        assert np.count_nonzero(np.diff(loud.astype(int)) == 1) == 3


@pytest.mark.parametrize(
    ("taps", "at_s"), [(1, (0.0, 0.4, 0.85)), (2, (0.0, 0.4)), (2, (0.0, 0.3, 1.2))],
    ids=["too few marks", "two taps", "uneven"],
)  # fmt: skip
def test_what_is_no_full_set_of_marks_leaves_it_to_the_pauses(
    tmp_path: Path, taps: int, at_s: tuple[float, ...]
) -> None:
    _tapped(tmp_path / "all.wav", taps, at_s=at_s)
    parts = cut_voices(tmp_path / "all.wav", ("bridge", "middle", "neck"), tmp_path / "heron")
    assert not any(part.tapped for part in parts)


def test_a_played_note_is_no_tap() -> None:
    level_db = np.full(1000, -80.0)
    for start in (300, 325, 350):
        level_db[start : start + 20] = -20.0  # 0.4 s each
    assert marks_between(level_db) == []
    for start in (300, 325, 350):
        level_db[start + 5 : start + 20] = -80.0  # 0.1 s each
    ((start_s, end_s),) = marks_between(level_db)
    assert (start_s, end_s) == pytest.approx((5.98, 7.2))
