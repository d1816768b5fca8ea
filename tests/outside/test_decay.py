"""Decay of exponentials in noise: tables of the standards' ranges and their known biases.

ISO 3382-1 defines T20 by the slope from -5 to -25 dB of the backward-integrated energy, EDT from
0 to -10 dB (clauses from memory); the biases are closed forms, see each test.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pluck_truth import RATE_HZ, partials, signal

from tonecompare.measure.decay.decay_time import measure_decay
from tonecompare.measure.decay.energy_curve import (
    LARGEST_TAIL_SHARE,
    MAIN_RANGE_DB,
    DecayCurve,
    slope_time,
)
from tonecompare.measure.partials.partial_set import measure_partials


@pytest.mark.parametrize(
    ("cut_db", "t20_percent"), [(30.0, -4.5), (35.0, -1.6), (40.0, -0.5), (45.0, -0.16)]
)
def test_ranges_are_the_standards(cut_db: float, t20_percent: float) -> None:
    # L(t) = 10 lg((e^-kt - e^-kT)/(1 - e^-kT)): T20 of a record cut D dB below its start, no tail.
    t60, k = 2.0, 6.0 * np.log(10.0) / 2.0
    end_s = t60 * cut_db / 60.0
    t = np.linspace(0.0, end_s * 0.9999, 4000)
    left = (np.exp(-k * t) - np.exp(-k * end_s)) / (1.0 - np.exp(-k * end_s))
    blank = np.zeros_like(t)
    found = slope_time(DecayCurve(t, 10.0 * np.log10(left), blank, blank), MAIN_RANGE_DB)
    assert found is not None
    assert 100.0 * (found[0] / t60 - 1.0) == pytest.approx(t20_percent, abs=0.25)


def test_a_tail_that_carries_the_range_is_no_measurement() -> None:
    t = np.linspace(0.0, 1.0, 500)
    most = np.full(t.size, LARGEST_TAIL_SHARE + 0.05)
    assert slope_time(DecayCurve(t, -30.0 * t, 0.0 * t, most), MAIN_RANGE_DB) is None


@pytest.mark.parametrize(
    ("snr_db", "rel"), [(60.0, 0.01), (50.0, 0.01), (45.0, 0.02), (35.0, 0.05)]
)
@pytest.mark.parametrize("t60_s", [1.0, 2.0])
def test_exponential_in_noise(snr_db: float, rel: float, t60_s: float) -> None:
    # A room tool without noise handling reads T20 2.21 for 2.00 at 40 dB; published suggestion for
    # a tool: within 2 % at 45 dB and 5 % at 35 dB usable range.
    x = partials([196.0, 392.0, 588.0], [0.3, 0.1, 0.05], t60_s, length_s=4.0)
    pluck = signal(x, 196.0, snr_db=snr_db)
    found = measure_decay(pluck, measure_partials(pluck))[0]
    assert found["decay_s"].value == pytest.approx(t60_s, rel=rel)
    assert found["decay_h01_s"].value == pytest.approx(t60_s, rel=rel)


def test_amplitude_time_constant_in_its_three_forms() -> None:
    # T60 = 3 ln 10 / sigma: T60 2 s is sigma 3.45388 per s, amplitude time constant 0.28953 s.
    t = np.arange(round(3.0 * RATE_HZ)) / RATE_HZ
    x = 0.2 * np.exp(-t / 0.28953) * np.cos(2.0 * np.pi * 220.0 * t)
    pluck = signal(x, 220.0)
    found = measure_decay(pluck, measure_partials(pluck))[0]
    assert found["decay_h01_s"].value == pytest.approx(2.0, rel=1e-3)
    assert found["decay_s"].value == pytest.approx(2.0, rel=3e-3)


#: Single notes that fall by 50 dB and more before the noise: the plain method needs no care there.
LONG_NOTES = ("1c-Low-E-24th", "2c-A-24th", "3c-D-24th", "4a-G", "4b-G-12th", "5b-B-12th",
              "6c-High-E-24th")  # fmt: skip


@pytest.mark.parametrize("name", LONG_NOTES)
def test_real_notes_by_the_plain_textbook_method(recordings: Path, name: str) -> None:
    # Backward integration of the squared samples (Schroeder, J. Acoust. Soc. Am. 37 (1965) 409) and
    # a line from -5 to -25 dB (0 to -10 dB for the early part), written here without noise, tail or
    # any of the program's own steps; level as the mean square of 0.05-0.55 s in dBFS (AES17).
    from takes_truth import load

    from tonecompare.measure.take import measure_take

    (take,), _ = load([recordings / "long-decays" / f"{name}.flac"])
    row = measure_take(take, file=name).plucks[0].cells()
    rate_hz, samples = take.audio.rate_hz, take.audio.samples[0] - take.audio.samples[0].mean()
    start = round(float(row["onset_s"]) * rate_hz)
    ring = samples[start : start + round(float(row["ring_s"]) * rate_hz)]
    left = np.cumsum((ring**2)[::-1])[::-1]
    curve = 10.0 * np.log10(left / left[0])
    time_s = np.arange(ring.size) / rate_hz

    def t60_s(top_db: float, bottom_db: float) -> float:
        part = slice(int(np.argmax(curve <= top_db)), int(np.argmax(curve <= bottom_db)))
        return float(-60.0 / np.polyfit(time_s[part], curve[part], 1)[0])

    assert row["decay_s"] == pytest.approx(t60_s(-5.0, -25.0), rel=0.01)
    assert row["decay_early_s"] == pytest.approx(t60_s(0.0, -10.0), rel=0.01)
    window = slice(round(0.05 * rate_hz), round(0.55 * rate_hz))
    level_dbfs = 10.0 * np.log10(2.0 * np.mean(ring[window] ** 2))
    assert row["level_dbfs"] == pytest.approx(level_dbfs, abs=0.02)
