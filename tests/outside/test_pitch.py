"""Pitch against standard tuning (ISO 16), librosa's note table and Praat (parselmouth)."""

from __future__ import annotations

from pathlib import Path

import librosa
import numpy as np
import parselmouth
import pytest
import soundfile as sf
from pluck_truth import RATE_HZ, series, signal

from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.partials.pitch import measure_pitch
from tonecompare.session.model import STANDARD_TUNING
from tonecompare.takes.plucks.note_of_pluck import note_hz

#: Open strings in equal temperament, A4 = 440 Hz (ISO 16): 440·2^((m - 69)/12), printed to 0.1 mHz.
OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)


@pytest.mark.parametrize(("note", "hz"), list(zip(STANDARD_TUNING, OPEN_HZ, strict=True)))
def test_standard_tuning(note: str, hz: float) -> None:
    assert note_hz(note) == pytest.approx(hz, abs=5e-5)


def test_every_semitone_is_librosas() -> None:
    for midi in range(28, 100):
        note = librosa.midi_to_note(midi, unicode=False)
        assert note_hz(note) == pytest.approx(float(librosa.note_to_hz(note)), rel=1e-9)


def test_other_concert_pitch() -> None:
    # 442 against 440 Hz is 7.8514 cents (1200 log2).
    row = measure_partials(signal(series(110.0), 110.0))
    found = measure_pitch(row, f0_hz=110.0, note="A2", a4_hz=442.0)["cents"]
    assert found.value == pytest.approx(-7.8514, abs=0.01)


def _praat_hz(samples: np.ndarray, rate_hz: float, near_hz: float) -> float:
    """Median of Praat's autocorrelation pitch (Boersma 1993) over 0.1–0.9 s."""
    part = samples[round(0.1 * rate_hz) : round(0.9 * rate_hz)]
    pitch = parselmouth.Sound(part, rate_hz).to_pitch_ac(
        time_step=0.02, pitch_floor=0.7 * near_hz, pitch_ceiling=1.5 * near_hz
    )
    values = pitch.selected_array["frequency"]
    return float(np.median(values[values > 0.0]))


@pytest.mark.parametrize("f0_hz", [82.41, 147.3, 329.0])
def test_praat_agrees_on_synthetic_plucks(f0_hz: float) -> None:
    # Praat's autocorrelation reads the period of the waveform: some cents off, not more.
    pluck = signal(series(f0_hz, n=15), f0_hz * 1.001, snr_db=60.0)
    found = measure_partials(pluck).f0_hz
    praat = _praat_hz(pluck.samples, RATE_HZ, f0_hz)
    assert 1200.0 * np.log2(found / praat) == pytest.approx(0.0, abs=1.0)


def _files(recordings: Path) -> list[Path]:
    folders = ("two-guitars/green/ord", "two-guitars/black/ord", "pickup-and-microphone/electric")
    return [path for f in folders for path in sorted((recordings / f).rglob("*.flac"))[::5]]


def test_praat_agrees_on_real_plucks(recordings: Path, tmp_path: Path) -> None:
    from takes_truth import load

    from tonecompare.measure.take import pluck_signal

    cents = []
    for path in _files(recordings):
        takes, _ = load([path])
        if not takes or not takes[0].plucks:
            continue
        take = takes[0]
        pluck = max(take.plucks, key=lambda p: p.ring_s)
        if pluck.f0_hz is None or pluck.ring_s < 1.0:
            continue
        one = pluck_signal(take, pluck, 1, None)
        found = measure_partials(one).f0_hz
        praat = _praat_hz(one.samples, one.rate_hz, pluck.f0_hz)
        cents.append(abs(1200.0 * np.log2(found / praat)))
    assert len(cents) > 10
    # Real strings glide and are stretched, which each method weighs its own way.
    assert np.median(cents) < 3.0
    assert np.max(cents) < 12.0


def test_note_of_a_file_read_elsewhere(recordings: Path) -> None:
    # The set's own naming: a3 in the file name sounds an octave lower, 110 Hz.
    path = recordings / "two-guitars/green/ord/twang_a3_f_rr1.flac"
    samples, rate_hz = sf.read(path, dtype="float64", always_2d=True)
    assert _praat_hz(samples[:, 0], float(rate_hz), 110.0) == pytest.approx(110.0, rel=0.02)
