"""Faults of whole files: each shown on a file with exactly that fault, silent on one without."""

from __future__ import annotations

import io
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from scipy.signal import butter, sosfilt

from tonecompare.takes import file_faults as faults
from tonecompare.takes.file_faults import (
    clipped_times,
    digital_silence_s,
    file_faults,
    inter_sample_peak,
    steepest_fall_hz,
    usable_channels,
)
from tonecompare.takes.model import Audio

RATE_HZ = 44100.0


def audio(samples: np.ndarray, *, rate_hz: float = RATE_HZ) -> Audio:
    return Audio(Path("v.wav"), np.atleast_2d(samples), rate_hz, "PCM_24", "")


def plucked(*, peak: float = 0.5, seconds: float = 2.0, steps: float = 2.0**23) -> np.ndarray:
    """A decaying low tone in hiss, rounded to steps: the shape in which clipping hides."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    x = np.exp(-2 * t) * sum(np.sin(2 * np.pi * 82.4 * k * t + k) / k for k in range(1, 12))
    x = peak * x / np.abs(x).max() + 1e-4 * np.random.default_rng(1).standard_normal(len(t))
    return np.round(x * steps) / steps


def flags(samples: np.ndarray) -> list[str]:
    it = audio(samples, rate_hz=RATE_HZ)
    return [flag for flag, _ in file_faults(it, clipped_s=clipped_times(it))]


@pytest.mark.parametrize("steps", [2.0**15, 2.0**23])
def test_a_clean_take_has_none(steps: float) -> None:
    assert flags(plucked(steps=steps)) == []


@pytest.mark.parametrize("steps", [2.0**15, 2.0**23])
@pytest.mark.parametrize("gain_after", [1.0, 0.4])
def test_clipping_at_full_scale_and_turned_down_afterwards(steps: float, gain_after: float) -> None:
    x = np.clip(plucked(peak=1.3), -1.0, 1.0 - 1.0 / steps) * gain_after
    it = audio(np.round(x * steps) / steps)
    times = clipped_times(it)
    assert len(times) > 3
    assert times.max() < 0.4  # exp(-2 t) takes 1.3 below 1 after 0.13 s
    ((flag, said),) = file_faults(it, clipped_s=times)
    assert flag == "clipped"
    top_db = 20 * np.log10(np.abs(it.samples).max())
    assert f"cut flat at {top_db:.1f} dBFS (at 0.0" in said


@pytest.mark.parametrize("rate_hz", [44100, 96000])
@pytest.mark.parametrize("hz", [30.0, 82.4, 1000.0])
def test_the_smooth_top_of_a_16_bit_wave_is_no_clipping(hz: float, rate_hz: int) -> None:
    """At 96 kHz five samples of a 30 Hz top share one 16-bit step."""
    x = np.round(32767 * 0.9999 * np.sin(2 * np.pi * hz * np.arange(rate_hz) / rate_hz)) / 32768
    assert len(clipped_times(audio(x, rate_hz=rate_hz))) == 0


@pytest.mark.parametrize("peak", [0.0003, 0.001, 0.01])
@pytest.mark.parametrize("hz", [41.2, 82.4, 329.6])
def test_the_top_of_a_quiet_16_bit_wave_is_no_clipping(peak: float, hz: float) -> None:
    # A sine is flat to one step of 2^-15 for 2 acos(1 - step/peak) of its phase: many samples.
    t = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
    x = np.round(peak * np.sin(2 * np.pi * hz * t) * 2**15) / 2**15
    assert "clipped" not in flags(x)
    # The same wave cut at 0.8 of its peak is clipped, quiet or not, where steps are fine enough.
    if peak >= 0.01:
        assert "clipped" in flags(np.clip(x, -0.8 * peak, 0.8 * peak))


def test_inter_sample_over() -> None:
    """fs/4 at 45 degrees: samples at 0.9, the wave between them at 0.9 * sqrt 2 (closed form)."""
    n = np.arange(4410)
    x = 0.9 * np.sqrt(2.0) * np.sin(np.pi / 2 * n + np.pi / 4) * np.hanning(4410) ** 0.1
    assert np.abs(x).max() == pytest.approx(0.9, abs=0.001)
    assert inter_sample_peak(audio(x))[0] == pytest.approx(0.9 * np.sqrt(2.0), rel=0.01)
    assert flags(x + 1e-3 * np.random.default_rng(3).standard_normal(4410))[0] == "inter-sample"


def test_dc_offset() -> None:
    assert flags(plucked() + 0.01) == ["dc-offset"]
    assert flags(plucked() + 0.0005) == []


@pytest.mark.parametrize(("rate_hz", "expected"), [(8000, ["low-rate"]), (22050, ["low-rate"])])
def test_low_rate_says_what_is_left(rate_hz: int, expected: list[str]) -> None:
    x = plucked()[:: round(44100 / rate_hz)]
    it = audio(x, rate_hz=rate_hz)
    ((flag, said),) = file_faults(it, clipped_s=np.zeros(0))
    assert flag == "low-rate"
    assert f"nothing above {rate_hz / 2000:g} kHz can be measured" in said


def test_gate_between_the_notes() -> None:
    x = plucked()
    x[40000:50000] = 0.0
    assert digital_silence_s(audio(x)) == pytest.approx(10000 / 44100, abs=1e-4)
    assert flags(x) == ["digital-silence"]


@pytest.mark.parametrize(("kind", "quality"), [("MP3", 0.4), ("MP3", 0.5), ("OGG", 0.5)])
def test_a_lossy_codec_leaves_an_edge(kind: str, quality: float) -> None:
    """Encoded and decoded again by libsndfile's own codecs, saved as PCM."""
    buffer = io.BytesIO()
    sf.write(
        buffer,
        plucked(seconds=3.0),
        int(RATE_HZ),
        format=kind,
        subtype={"MP3": "MPEG_LAYER_III", "OGG": "VORBIS"}[kind],
        compression_level=quality,
    )
    buffer.seek(0)
    decoded, _ = sf.read(buffer)
    edge_hz = steepest_fall_hz(audio(decoded))[0]
    if kind == "OGG":  # its edge may stand above 0.9 of half the rate
        assert edge_hz is None or edge_hz > 15000
    else:
        assert edge_hz is not None
        assert 4000 < edge_hz < 20000


def test_a_coil_or_tone_control_is_no_edge() -> None:
    """Fourth-order low-pass at 3 kHz (24 dB per octave) over the hiss of the interface."""
    x = sosfilt(butter(4, 3000.0, fs=RATE_HZ, output="sos"), plucked())
    x = x + 1e-5 * np.random.default_rng(2).standard_normal(len(x))
    assert steepest_fall_hz(audio(x))[0] is None


def test_short_file_has_no_edge() -> None:
    assert steepest_fall_hz(audio(plucked()[:3000]))[0] is None


def test_dual_mono_is_used_once() -> None:
    kept, channels = usable_channels(audio(np.stack([plucked(), plucked()])))
    assert kept.samples.shape[0] == 1
    assert channels == (0,)
    assert kept.flags == ("dual-mono",)
    assert "identical" in kept.problems[0]


@pytest.mark.parametrize("gain", [1.0, 0.7])
def test_a_mono_recording_dithered_on_both_sides_is_used_once(gain: float) -> None:
    x = plucked()
    rng = np.random.default_rng(3)
    # Triangular dither of one 16-bit step, anew on each side: some 60 dB under the notes.
    sides = [
        np.round((g * x + rng.triangular(-1, 0, 1, x.size) * 2.0**-15) * 2**15) / 2**15
        for g in (1.0, gain)
    ]
    kept, channels = usable_channels(audio(np.array(sides)))
    assert channels == (0,)
    assert kept.flags == ("dual-mono",)


@pytest.mark.parametrize("silent", [0, 1])
def test_silent_channel_is_left_out(silent: int) -> None:
    pair = np.stack([plucked(), plucked()])
    pair[silent] = 0.0
    kept, channels = usable_channels(audio(pair))
    assert channels == (1 - silent,)
    assert f"Channel {silent + 1} is silent" in kept.problems[0]


def test_two_outputs_stay_two() -> None:
    pair = np.stack([plucked(), np.roll(plucked(), 3)])
    kept, channels = usable_channels(audio(pair))
    assert channels == (0, 1)
    assert kept.samples.shape[0] == 2
    assert kept.flags == ()


def loud_throughout() -> Audio:
    """20 s at 96 kHz that are cut flat at full scale half of the time."""
    return audio(np.clip(2.0 * np.sin(2 * np.pi * 82.4 * np.arange(2_000_000) / 96_000), -1, 1))


def test_a_take_cut_flat_throughout_takes_no_memory_for_every_sample() -> None:
    it = loud_throughout()
    assert it.extremes.peak == 1.0
    tracemalloc.start()
    times = clipped_times(it)
    between, _ = inter_sample_peak(it)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (len(times) > 3000, between > 1.0) == (True, True)
    assert most < 16 * 2**20  # places of all samples alone are 16 MB


def test_parts_find_what_the_whole_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    it = loud_throughout()
    whole, between = set(clipped_times(it)), inter_sample_peak(it)[0]
    monkeypatch.setattr(faults, "_LONGEST_PART", 50_000)
    in_parts = set(clipped_times(it))
    assert in_parts <= whole
    assert len(whole - in_parts) <= 2_000_000 / 50_000  # one that the end of a part cuts in two
    assert inter_sample_peak(it)[0] == pytest.approx(between, rel=1e-3)


def test_noise_of_one_step_is_not_cut_flat() -> None:
    steps = np.random.default_rng(0).integers(-1, 2, 200_000)
    assert len(clipped_times(audio(steps / 2.0**15))) == 0
