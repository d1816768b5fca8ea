"""Clip files, read back by other readers: loudness, peaks, alignment, markers, tags."""

from __future__ import annotations

import hashlib
import re
import struct

import numpy as np
import pandas as pd
import pytest
import soundfile as sf
from scipy import signal
from small_takes import take, write

from tonecompare.errors import InputError
from tonecompare.measure.model import FileRecord
from tonecompare.report.files.clip_set import CLIP_COLUMNS, write_clip_set
from tonecompare.report.sounds.aligned import SoundReader
from tonecompare.report.sounds.cuts import LEAD_S, Cut
from tonecompare.report.sounds.selection import SoundPair

RATE = 44_100
QUIET_S = 2.0


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    root = tmp_path_factory.mktemp("clips")
    write(root / "a" / "neck.wav", take(gain=0.3, seed=1))
    write(root / "b" / "neck.wav", take(gain=0.05, slope=1.4, t60_s=1.5, seed=2))
    write(root / "b" / "other-rate.wav", take(gain=0.05, seed=2), rate_hz=48_000)

    def pair(voice, files):
        cuts = [(Cut("A2", file, 1, QUIET_S + 3 * 1.6, 1.5, 4, 110.0),) for file in files]
        return SoundPair("a to b", ("a", "b"), voice, "magnetic", "A2", *cuts)

    pairs = [
        pair("neck", ("a/neck.wav", "b/neck.wav")),
        pair("odd", ("a/neck.wav", "b/other-rate.wav")),
        pair("gone", ("a/neck.wav", "b/gone.wav")),
    ]
    said = write_clip_set(pairs, root, root / "out")
    write_clip_set(pairs, root, root / "again")
    return root / "out", said


@pytest.mark.parametrize("read_before", [0, 1])
def test_a_take_changed_since_it_was_measured_is_left_out(tmp_path, monkeypatch, read_before):
    for number, stage in enumerate("ab"):
        write(tmp_path / stage / "neck.wav", take(notes=("A2",), repeats=1, seed=number))
    names = ("a/neck.wav", "b/neck.wav")
    files = [record_of(tmp_path, name) for name in names]
    cuts = [(Cut("A2", name, 1, QUIET_S, 1.5, 1, 110.0),) for name in names]
    pair = SoundPair("a to b", ("a", "b"), "neck", "magnetic", "A2", *cuts)
    aligned, calls = SoundReader.aligned, []

    def another_sound_lies_there(reader, cuts):
        calls.append(cuts)
        if len(calls) > read_before:  # while it is read for loudness, or again to be cut
            write(tmp_path / names[1], take(notes=("E2",), repeats=1, seed=9))
            reader._kept.clear()
        return aligned(reader, cuts)

    monkeypatch.setattr(SoundReader, "aligned", another_sound_lies_there)
    said = write_clip_set([pair], tmp_path, tmp_path / "out", files=files)
    assert said.pairs == 0
    assert [line.partition(": ")[2] for line in said.left_out] == [
        f"{tmp_path / names[1]}: was changed after it was measured. "
        "Run it again once nothing writes to it."
    ]
    assert not list((tmp_path / "out").glob("*.wav"))


def record_of(root, name):
    content = hashlib.sha256((root / name).read_bytes()).hexdigest()
    return FileRecord(name, content, RATE, 1, "PCM_24", 1.0, name[0], "neck", 1)


def chunks(data):
    """Read the chunks of a RIFF file (name, body), lists opened."""
    assert data[:4] == b"RIFF"
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    found, at = [], 12
    while at < len(data):
        name, size = data[at : at + 4], struct.unpack("<I", data[at + 4 : at + 8])[0]
        found.append((name, data[at + 8 : at + 8 + size]))
        at += 8 + size + size % 2
    return found


def test_both_sides_are_equally_loud_and_peak_below_the_limit(made):
    """Other filters than ours: the standard's own table of coefficients at 48 kHz."""
    out, said = made
    first = ([1.53512485958697, -2.69169618940638, 1.19839281085285],
             [1.0, -1.69065929318241, 0.73248077421585])  # fmt: skip
    second = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
    levels = []
    for side in ("before", "after"):
        samples, rate = sf.read(out / f"a-to-b-neck-magnetic-a2-{side}.wav")
        fine = signal.resample_poly(samples, 160, 147)  # 44.1 to 48 kHz
        heard = signal.lfilter(*second, signal.lfilter(*first, fine))
        start = round(LEAD_S * 48_000)
        power = np.mean(heard[start : start + 48_000] ** 2)
        levels.append(-0.691 + 10 * np.log10(power))
        peak = 20 * np.log10(np.abs(signal.resample(samples, 8 * samples.size)).max())
        assert peak < -1.0
        assert rate == RATE
    assert levels[0] == pytest.approx(levels[1], abs=0.1)
    assert levels[0] == pytest.approx(said.loudness_lkfs, abs=0.1)


def test_both_sides_begin_together(made):
    out, _ = made
    one, other = (
        sf.read(out / f"a-to-b-neck-magnetic-a2-{side}.wav")[0] for side in ("before", "after")
    )
    assert one.size == other.size
    # The true onsets are the same: the fundamental's zero crossings fall together.
    band = signal.butter(2, [80, 140], "bandpass", fs=RATE, output="sos")
    one, other = (signal.sosfiltfilt(band, x)[:8000] for x in (one, other))
    lags = np.arange(-200, 201)
    likeness = [np.dot(one[500:7000], other[500 + lag : 7000 + lag]) for lag in lags]
    assert abs(lags[int(np.argmax(likeness))]) / RATE <= 1e-4


def test_fades_end_in_nothing_without_a_step(made):
    samples, _ = sf.read(made[0] / "a-to-b-neck-magnetic-a2-before.wav")
    assert abs(samples[0]) < 1e-6
    assert abs(samples[-1]) < 1e-6
    assert np.abs(np.diff(samples[:200])).max() < 1e-3
    assert np.abs(np.diff(samples[-200:])).max() < 1e-3


def test_flac_and_wav_hold_the_same_samples_and_the_gain(made):
    out, _ = made
    rows = pd.read_csv(out / "clips.csv")
    assert tuple(rows.columns) == CLIP_COLUMNS
    for _, row in rows.iterrows():
        wav, flac = out / row["file"], out / row["file"].replace(".wav", ".flac")
        assert sf.info(wav).subtype == sf.info(flac).subtype == "PCM_24"
        one, _ = sf.read(wav, dtype="int32")
        other, _ = sf.read(flac, dtype="int32")
        np.testing.assert_array_equal(one, other)
        with sf.SoundFile(wav) as inside, sf.SoundFile(flac) as coded:
            assert inside.comment == coded.comment
            assert inside.title == coded.title == f"a to b: Neck, A2, {row['side']}"
            told = re.search(r"Gain applied ([+−]\d+\.\d+) dB", inside.comment)[1]
        assert float(told.replace("−", "-")) == pytest.approx(row["gain_db"], abs=0.006)
        # The gain is all that was done: away from the fades, the recording's own samples.
        whole, _ = sf.read(out.parent / row["source"])
        start = round(row["onset_s"] * RATE) + round(row["shift_ms"] * RATE / 1e3)
        start -= round(LEAD_S * RATE)
        wanted = whole[start + 1000 : start + 30_000] * 10 ** (row["gain_db"] / 20)
        np.testing.assert_allclose(one[1000:30_000] / 2**31, wanted, atol=2.0**-23)


def test_markers_stand_where_each_part_begins(made):
    out, _ = made
    data = (out / "a-to-b-neck-magnetic-a2-abab.wav").read_bytes()
    found = dict(chunks(data)[:-1])
    body = found[b"cue "]
    points = [struct.unpack("<II4sIII", body[4 + 24 * n : 28 + 24 * n]) for n in range(4)]
    cues = pd.read_csv(out / "cues.csv")
    starts = [point[5] for point in points]
    assert starts == [point[1] for point in points] == list(cues["start_sample"])
    assert [point[2] for point in points] == [b"data"] * 4
    adtl = found[b"LIST"]  # the last list stands behind the tags
    assert re.findall(rb"labl....(?:....)(.: \w)\0", adtl, re.S) == [b"A: a", b"B: b"] * 2
    samples, rate = sf.read(out / "a-to-b-neck-magnetic-a2-abab.wav", dtype="int32")
    for start, side in zip(starts, ("before", "after") * 2, strict=True):
        alone, _ = sf.read(out / f"a-to-b-neck-magnetic-a2-{side}.wav", dtype="int32")
        np.testing.assert_array_equal(samples[start : start + alone.size], alone)
    vtt = (out / "a-to-b-neck-magnetic-a2-abab.vtt").read_text()
    assert vtt.startswith("WEBVTT\n\n00:00:00.000 --> 00:00:01.510\nA: a\n")
    second = re.findall(r"^00:00:(\S+) --> \S+$", vtt, re.M)[1]
    assert float(second) == pytest.approx(starts[1] / rate, abs=5e-4)


def test_what_cannot_be_cut_is_named_and_the_rest_is_written(made):
    out, said = made
    assert said.pairs == 1
    assert said.left_out[0] == ("a to b, odd, A2: the two recordings have different sample rates")
    assert "gone.wav" in said.left_out[1]
    assert len(list(out.glob("*.wav"))) == 3


def test_files_are_the_same_from_run_to_run(made):
    again = made[0].with_name("again")
    for path in made[0].iterdir():
        assert path.read_bytes() == (again / path.name).read_bytes(), path.name


def test_a_folder_of_other_things_is_left_alone(made, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="left alone"):
        write_clip_set([], made[0].parent, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
