"""Level, peak, distance from the quiet, and where the energy of the attack lies."""

from __future__ import annotations

import numpy as np
import pytest
from pluck_truth import RATE_HZ, series, signal, white_noise

from tonecompare.measure.pluck.level_and_attack import measure_attack, measure_level
from tonecompare.measure.signal import PluckSignal


def _steady(amplitude: float = 1.0, *, length_s: float = 1.0) -> np.ndarray:
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    return amplitude * np.sin(2.0 * np.pi * 997.0 * t)


def test_full_scale_sine_reads_0_dbfs() -> None:
    # AES17: the RMS of a full-scale sine is 0 dBFS.
    found = measure_level(PluckSignal(_steady(), RATE_HZ, 997.0, None))
    assert found["level_dbfs"].value == pytest.approx(0.0, abs=1e-3)
    assert found["peak_dbfs"].value == pytest.approx(0.0, abs=1e-3)


def test_decaying_note_reads_its_mean_square() -> None:
    # Mean of exp(-2 sigma t) over 0.05–0.55 s, closed form; sigma = 3 ln 10/T60.
    sigma = 3.0 * np.log(10.0) / 2.0
    t = np.arange(round(RATE_HZ)) / RATE_HZ
    x = 0.5 * np.exp(-sigma * t) * np.cos(2.0 * np.pi * 196.0 * t)
    mean = 0.25 * (np.exp(-0.1 * sigma) - np.exp(-1.1 * sigma)) / (2.0 * sigma * 0.5)
    found = measure_level(PluckSignal(x, RATE_HZ, 196.0, None))["level_dbfs"]
    assert found.value == pytest.approx(10.0 * np.log10(mean), abs=0.02)


@pytest.mark.parametrize("snr_db", [10.0, 20.0])
def test_quiet_is_taken_off(snr_db: float) -> None:
    # 10 dB over the quiet the sum reads 0.41 dB high (10 lg 1.1).
    found = measure_level(signal(_steady(0.1), 997.0, snr_db=snr_db))
    level = found["level_dbfs"]
    assert level.value == pytest.approx(-20.0, abs=0.06)
    assert level.uncertainty is not None
    assert abs(level.value + 20.0) < 3.0 * level.uncertainty
    assert found["snr_db"].value == pytest.approx(snr_db, abs=0.1)


def test_buried_note_is_unmeasured() -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.1, 48000)
    pluck = PluckSignal(noise, RATE_HZ, 997.0, white_noise(0.01 / 24000.0))
    assert measure_level(pluck)["level_dbfs"].value is None
    assert measure_level(pluck)["level_dbfs"].reason == "does not stand above the quiet"
    assert measure_attack(pluck)["attack_ms"].value is None


def test_short_and_silent_are_unmeasured() -> None:
    assert "rang for only" in measure_level(signal(_steady(length_s=0.1), 997.0))[
        "level_dbfs"].reason  # fmt: skip
    silent = measure_level(PluckSignal(np.zeros(48000), RATE_HZ, None, None))
    assert silent["peak_dbfs"].value is None
    assert silent["peak_dbfs"].reason == "digital silence"
    assert measure_level(signal(_steady(), 997.0))["snr_db"].reason == "no quiet was found"


@pytest.mark.parametrize(
    ("shape", "true_ms"),
    [
        ("steady", 25.0),  # constant energy: the middle
        ("ramp", 37.5),  # amplitude t: energy t², centre 3/4 of 50 ms
        ("click", 10.0 - 50.0 / (np.exp(5.0) - 1.0)),  # energy exp(-t/10 ms), cut at 50 ms
    ],
)
def test_attack_is_the_centre_of_the_energy(shape: str, true_ms: float) -> None:
    t = np.arange(4800) / RATE_HZ
    envelope = {"steady": np.ones_like(t), "ramp": t, "click": np.exp(-t / 0.02)}[shape]
    x = envelope * np.sin(2.0 * np.pi * 2000.0 * t)
    found = measure_attack(signal(x, 2000.0))["attack_ms"]
    assert found.value == pytest.approx(true_ms, abs=0.1)


def test_the_quiet_does_not_draw_the_attack_to_the_middle() -> None:
    # A click of energy exp(-t/10 ms) over steady hiss: the hiss's own centre is 25 ms, the click's
    # 10 - 50/(e^5 - 1) ms. Without the hiss taken off, half as much energy again reads 15 ms.
    t = np.arange(48000) / RATE_HZ
    x = np.exp(-t / 0.02) * np.sin(2.0 * np.pi * 2000.0 * t)
    energy = float(np.mean(np.square(x[:2400])))
    hiss = np.random.default_rng(4).normal(0.0, np.sqrt(0.5 * energy), x.size)
    noise = white_noise(0.5 * energy / (RATE_HZ / 2.0))
    found = measure_attack(PluckSignal(x + hiss, RATE_HZ, 2000.0, noise))["attack_ms"]
    true_ms = 10.0 - 50.0 / (np.exp(5.0) - 1.0)
    assert found.value == pytest.approx(true_ms, abs=1.0)
    assert found.uncertainty is not None
    assert abs(found.value - true_ms) < 3.0 * found.uncertainty


def test_attack_moves_with_the_onset_only_by_its_error() -> None:
    x = series(110.0)
    here = measure_attack(PluckSignal(x, RATE_HZ, 110.0, None, lag_s=0.0))["attack_ms"].value
    later = measure_attack(PluckSignal(x, RATE_HZ, 110.0, None, lag_s=0.0002))["attack_ms"].value
    assert here is not None
    assert later is not None
    assert abs(here - later) < 0.25


def test_a_doubtful_onset_makes_level_and_attack_doubtful() -> None:
    x = series(110.0)
    sure, unsure = (PluckSignal(x, RATE_HZ, 110.0, None, onset_sd_s=sd_s) for sd_s in (1e-5, 1e-3))
    for measure, name in ((measure_level, "level_dbfs"), (measure_attack, "attack_ms")):
        small, large = measure(sure)[name].uncertainty, measure(unsure)[name].uncertainty
        assert small is not None
        assert large is not None
        assert large > 5.0 * small > 0.0


def test_peak_and_ratio_are_as_unsure_as_the_quiet() -> None:
    found = measure_level(signal(_steady(0.1), 997.0, snr_db=40.0))
    # Noise of 1 % of the sine's RMS: 0.7 % of its peak are 0.06 dB, and of many tops the largest.
    assert found["peak_dbfs"].uncertainty is not None
    assert 0.06 < found["peak_dbfs"].uncertainty < 0.3
    # 2 s of white noise up to 24 kHz: sqrt(1.94/48000) = 0.6 % are 0.028 dB.
    assert found["snr_db"].uncertainty == pytest.approx(0.028, abs=0.01)
