"""A finger that squeaks along a wound string is no pluck; notes that glide or are hammered are."""

from __future__ import annotations

from pathlib import Path

import check_takes as takes
import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from tonecompare.session import load_session
from tonecompare.session.model import Recording, Session, Stage, Voice
from tonecompare.takes.load import load_takes

RATE = round(takes.RATE_HZ)


def _squeak(rng: np.random.Generator, *, length_s: float, tone_share: float) -> np.ndarray:
    """Noise 250 Hz wide about a centre that moves by an octave and more, and a tone that does."""
    n = round(length_s * RATE)
    place = np.arange(n) / n
    phase = 2.0 * np.pi * np.cumsum(1200.0 * rng.uniform(0.8, 1.3) * 2.2**place) / RATE
    narrow = butter(2, 250.0, fs=RATE, output="sos")
    a, b = sosfilt(narrow, rng.standard_normal((2, n + 2000)), axis=1)[:, 2000:]
    noise = (a * np.cos(phase) - b * np.sin(phase)) / a.std() / np.sqrt(2.0)
    tone = np.cos(phase) + 0.5 * np.cos(2.0 * phase)
    sound = np.sqrt(1.0 - tone_share) * noise + np.sqrt(tone_share) * tone
    sound *= np.sqrt(np.sin(np.pi * place))
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


@pytest.mark.parametrize("length_s", [0.2, 0.35])
@pytest.mark.parametrize("tone_share", [0.5, 0.9])
@pytest.mark.parametrize("under_db", [15.0, 20.0, 26.0])
def test_squeaks_between_damped_notes_are_no_plucks(tmp_path, length_s, tone_share, under_db):
    rng = np.random.default_rng(2)
    samples = takes.take(damp_before_s=0.7).copy()
    start = round(takes.onset_s(0) * RATE)
    loud = np.sqrt(np.mean(samples[start : start + RATE // 2] ** 2))
    for index in (1, 3, 4):
        at = round((takes.onset_s(index) - 0.55) * RATE)
        squeak = _squeak(rng, length_s=length_s, tone_share=tone_share)
        samples[at : at + squeak.size] += loud * 10.0 ** (-under_db / 20.0) * squeak
    takes.write(tmp_path / "stock" / "bridge.wav", samples)
    session = load_session(tmp_path)
    (take,), _ = load_takes(session, session.recordings[0])
    onsets = [pluck.onset_s for pluck in take.plucks]
    assert onsets == pytest.approx([takes.onset_s(k) for k in range(6)], abs=0.03)
    assert {pluck.note for pluck in take.plucks} == {"A2", "G3"}


@pytest.mark.parametrize(
    ("name", "at_least"), [("Slide-G", 4), ("Hammer-Pull-High-E", 20), ("Bend-Slide-G", 2)]
)
def test_real_slides_and_hammered_notes_stay(recordings: Path, name: str, at_least: int) -> None:
    file = recordings / "long-decays" / f"{name}.flac"
    session = Session(
        "x", file.parent, {"a": Stage("a", "one", file.parent)}, (),
        voices={"v": Voice("v", outputs=("magnetic",))},
    )  # fmt: skip
    (take,), _ = load_takes(session, Recording("a", "v", (file,)))
    # What follows in quick turn is one riff that holds them all.
    assert sum(len(pluck.events_s) or 1 for pluck in take.plucks) >= at_least
