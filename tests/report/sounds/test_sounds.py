"""Sounds to compare by ear: the plucks chosen, how they are aligned and how loud they are."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pandas as pd
import pyloudnorm
import pytest
import soundfile as sf
from scipy import signal

from tonecompare.errors import InputError
from tonecompare.measure.model import FileRecord, Measurements
from tonecompare.quantities.columns import MEASUREMENTS
from tonecompare.report.sounds import measured_file
from tonecompare.report.sounds.aligned import SoundReader, common_loudness
from tonecompare.report.sounds.cuts import LEAD_S, Cut, from_the_middle
from tonecompare.report.sounds.loudness import true_peak_db
from tonecompare.report.sounds.selection import sound_pairs
from tonecompare.session.model import ComparisonSpec, Session

RATE = 48_000


def pluck(f0_hz: float, *, tilt: float = 1.0, late_s: float = 0.0, seconds: float = 2.0):
    """Return a plucked sound of known onset (0.5 s + ``late_s``), late by parts of a sample too."""
    time = np.arange(round((seconds + 0.5) * RATE)) / RATE - 0.5 - late_s
    sound = np.zeros(time.size)
    for n in range(1, 13):
        fading = np.exp(-n * np.clip(time, 0, None)) / n**tilt
        sound += np.sin(2 * np.pi * n * f0_hz * time) * fading
    return 0.2 * sound * (time >= 0)


@pytest.mark.parametrize("late_ms", [-1.5, -0.31, 0.0, 0.77, 1.5])
@pytest.mark.parametrize(("f0_hz", "off_ms"), [(82.4, 1.0), (110.0, -1.0), (196.0, 0.4)])
def test_attacks_lie_over_each_other(tmp_path, late_ms, f0_hz, off_ms):
    """Another tone, another delay, a wrong onset in the table: within 0.1 ms all the same."""
    rng = np.random.default_rng(7)
    for name, samples in (
        ("a.wav", pluck(f0_hz)),
        ("b.wav", -0.5 * pluck(f0_hz, tilt=1.3, late_s=late_ms / 1e3)),
    ):
        sf.write(tmp_path / name, samples + 1e-4 * rng.normal(size=samples.size), RATE, "PCM_24")
    said_s = 0.5 + late_ms / 1e3 + off_ms / 1e3
    cuts = [Cut("E2", "a.wav", 1, 0.5, 1.5, 1, f0_hz), Cut("E2", "b.wav", 1, said_s, 1.5, 1, f0_hz)]
    one, other = SoundReader(tmp_path).aligned(cuts)
    assert other.by_attack
    assert other.shift_s * 1e3 == pytest.approx(-off_ms, abs=0.1)
    assert one.samples.size == other.samples.size == round((1.5 + LEAD_S) * RATE)
    # No sample is made anew: the piece is the recording's own, outside the fades.
    whole, _ = sf.read(tmp_path / "b.wav")
    start = round(said_s * RATE) + round(other.shift_s * RATE)
    np.testing.assert_array_equal(other.samples[480:4800], whole[start : start + 4320])


def test_attacks_that_are_not_alike_keep_their_onsets(tmp_path):
    rng = np.random.default_rng(5)
    for name in ("a.wav", "b.wav"):
        sf.write(tmp_path / name, 0.1 * rng.normal(size=2 * RATE), RATE, "PCM_24")
    sounds = SoundReader(tmp_path).aligned([Cut("x", f, 1, 0.5, 1.0) for f in ("a.wav", "b.wav")])
    assert sounds[0].by_attack
    assert not sounds[1].by_attack
    assert sounds[1].shift_s == 0.0


def test_sounds_are_brought_to_one_loudness_and_peak_below_the_limit(tmp_path):
    # A click 30 dB above what rings: its peak forbids the usual loudness.
    sharp = 0.01 * pluck(110.0)
    sharp[round(0.501 * RATE)] = 0.5
    sf.write(tmp_path / "a.wav", pluck(110.0), RATE, "PCM_24")
    sf.write(tmp_path / "b.wav", sharp, RATE, "PCM_24")
    reader = SoundReader(tmp_path)
    sounds = reader.aligned([Cut("A2", f, 1, 0.5, 1.5, 1, 110.0) for f in ("a.wav", "b.wav")])
    assert common_loudness(sounds[:1]) == -20.0
    loudness = common_loudness(sounds)
    assert loudness < -21.0
    assert max(true_peak_db(sound.at(loudness)) for sound in sounds) < -1.0
    # pyloudnorm's own meter, its gate held open by a block as long as the window.
    meter = pyloudnorm.Meter(RATE, filter_class="DeMan", block_size=0.98)
    first = round(LEAD_S * RATE)
    said = [meter.integrated_loudness(sound.at(loudness)[: first + RATE]) for sound in sounds[:1]]
    assert said[0] == pytest.approx(loudness, abs=0.1)


def test_the_true_peak_lies_between_samples():
    time = np.arange(4800)
    sine = 0.5 * np.sin(np.pi / 2 * time + np.pi / 4) * signal.windows.tukey(4800, 0.2)
    assert 20 * np.log10(np.abs(sine).max()) == pytest.approx(-9.03, abs=0.01)
    assert true_peak_db(sine) == pytest.approx(-6.02, abs=0.02)


def test_the_middle_pluck_comes_first():
    rows = pd.DataFrame({"level_dbfs": [-20.0, -30.0, -24.0, -10.0]})
    assert list(from_the_middle(rows)["level_dbfs"]) == [-24.0, -30.0, -20.0, -10.0]


def _measured(rings=(3.0, 2.0)) -> tuple[Session, Measurements]:
    rows = [
        {
            "stage": stage, "voice": "bridge", "output": "magnetic", "file": f"{stage}/b.wav",
            "channel": 1, "pluck": number, "note": note, "onset_s": float(number),
            "ring_s": ring, "f0_hz": f0, "level_dbfs": -20.0 - number,
        }
        for stage, ring in zip(("a", "b"), rings, strict=True)
        for note, f0 in (("E4", 329.6), ("Am chord", np.nan), ("E2", 82.4))
        for number in range(1, 4 if stage == "a" else 3)
    ]  # fmt: skip
    plucks = pd.DataFrame(rows).reindex(columns=list(MEASUREMENTS))
    session = Session("t", None, {}, (), comparisons=(ComparisonSpec("a", "b"),))
    return session, Measurements(plucks, pd.DataFrame(), pd.DataFrame())


def test_notes_stand_from_low_to_high_and_chords_last():
    pairs = sound_pairs(*_measured(), longest_s=2.5, most_plucks=4)
    assert [pair.note for pair in pairs] == ["E2", "E4", "Am chord"]
    assert {pair.length_s for pair in pairs} == {2.0}
    # As many plucks on both sides, that of middle level first.
    assert [cut.pluck for cut in pairs[0].before] == [2, 3]
    assert [cut.pluck for cut in pairs[0].after] == [2, 1]


def test_what_is_not_there_is_named():
    with pytest.raises(InputError, match=r'no voice "neck" to choose here\. There is: "bridge"'):
        sound_pairs(*_measured(), longest_s=2.0, voices=["neck"])
    assert [p.note for p in sound_pairs(*_measured(), longest_s=2.0, notes=["E4"])] == ["E4"]


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_of_a_recording_as_it_was_measured_only_what_is_heard_is_read(tmp_path, monkeypatch, name):
    samples = pluck(110.0)
    sf.write(tmp_path / name, samples, RATE, subtype="PCM_24")
    whole, _ = sf.read(tmp_path / name)
    checksum = hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()
    length_s = samples.size / RATE
    record = FileRecord(name, checksum, RATE, 1, "PCM_24", length_s, "a", "bridge", 1)
    with monkeypatch.context() as changed:
        changed.setattr(measured_file, "read_audio", lambda path: pytest.fail(f"all of {path}"))
        audio = measured_file.read_as_measured(tmp_path, name, {name: record})
    assert audio.samples.shape == (1, samples.size)
    assert audio.samples[0][30_001:40_007].tolist() == whole[30_001:40_007].tolist()
    longer = replace(record, length_s=length_s + 1.0)  # a header that promised more
    audio = measured_file.read_as_measured(tmp_path, name, {name: longer})
    assert audio.samples[0].tolist() == whole.tolist()
