"""The row's f0 and inharmonicity: what is stated knows partials that do not belong to the row."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from pluck_truth import white_noise
from real_repeats import measured_file

from tonecompare.measure.partials.partial_row import find_peaks, fit_row_of_partials
from tonecompare.measure.partials.partial_set import no_partials
from tonecompare.measure.partials.pitch import first_partial
from tonecompare.measure.signal import PluckSignal

ORDER = np.arange(1.0, 25.0)
F1_HZ, STRETCH = 220.0, 1e-4


def _row(order: np.ndarray = ORDER, stretch: float = STRETCH) -> np.ndarray:
    """n f sqrt(1 + B n²), partial 1 at 220 Hz (Fletcher 1964)."""
    return np.asarray(F1_HZ * order * np.sqrt((1.0 + stretch * order**2) / (1.0 + stretch)))


def _fit(hz: np.ndarray, sd_cents: float = 0.02) -> tuple[float, float, float, float]:
    sd = hz * sd_cents * np.log(2.0) / 1200.0
    return fit_row_of_partials(hz, sd, 1.0 / ORDER**4)


def test_a_clean_row_comes_back() -> None:
    f1, sd, stretch, stretch_sd = _fit(_row())
    assert abs(f1 - F1_HZ) < 1e-6
    assert abs(stretch - STRETCH) < 1e-9
    assert sd < 0.01
    assert stretch_sd < 1e-6


def test_sums_of_lower_partials_in_the_place_of_upper_ones_widen_the_interval() -> None:
    # A bent coil adds f_m + f_n; the weak partials 13 to 24 are buried under it (m = n = half).
    hz = _row()
    half = ORDER // 2
    hz[12:] = (_row(half) + _row(ORDER - half))[12:]
    _, _, stretch, sd = _fit(hz)
    assert stretch < 0.7 * STRETCH
    assert abs(stretch - STRETCH) < 2.0 * sd


def test_intervals_hold_where_neighbours_stand_off_together() -> None:
    # Offsets of 2 cents, alike over some four partials, and single ones of 20.
    rng = np.random.default_rng(3)
    inside = []
    for _ in range(300):
        smooth = np.convolve(rng.standard_normal(30), np.ones(4) / 2.0, mode="valid")[:24]
        cents = 2.0 * smooth + 20.0 * (rng.random(24) < 0.05) * rng.standard_normal(24)
        _, _, stretch, stretch_sd = _fit(_row() * 2.0 ** (cents / 1200.0))
        inside.append(abs(stretch - STRETCH) < 1.96 * stretch_sd)
    assert np.mean(inside) > 0.88


@pytest.mark.parametrize("off_cents", [0.0, 0.5, 5.0, -8.0])
def test_pitch_is_that_of_partial_1_where_the_row_lies_off_it(off_cents: float) -> None:
    # A row whose lower end bends as a bridge bends it; partial 1 itself is known to 0.1 cents.
    hz = _row()
    hz[:6] *= 2.0 ** (off_cents * np.linspace(1.0, 0.0, 6) / 1200.0)
    row = _fit(hz, sd_cents=0.1)
    rates = hz * 0.1 * np.log(2.0) / 1200.0 * 2.0 * np.pi
    found, _, sd = first_partial(
        replace(no_partials(""), frequency_hz=hz, rate_sd=rates, f0_hz=row[0], f0_sd_hz=row[1])
    )
    off = 1200.0 * np.log2(found / hz[0])
    assert abs(off) < 0.6
    assert abs(found - hz[0]) < 2.0 * sd
    assert sd / found * 1731.2 < 0.8


def test_real_repeats_of_a_note_agree_on_inharmonicity(recordings: Path) -> None:
    of_note: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for guitar in ("green", "black"):
        for path in sorted((recordings / "two-guitars" / guitar / "ord").glob("*_rr[13].flac")):
            measured = measured_file(path)
            assert measured is not None
            pluck = max(measured.plucks, key=lambda p: p.value("ring_s") or 0)
            found = pluck.value("inharmonicity"), pluck.uncertainty("inharmonicity")
            if found[0] is not None and found[1] is not None:
                of_note[guitar, path.stem.split("_")[1]].append((found[0], found[1]))
    z = []
    for values in of_note.values():
        for i, (a, sd_a) in enumerate(values):
            z += [(a - b) / np.hypot(sd_a, sd_b) for b, sd_b in values[:i]]
    assert len(z) >= 40
    assert np.mean(np.abs(z) < 1.96) > 0.9


def test_a_loud_row_without_any_noise_is_found_and_nothing_overflows() -> None:
    # 1e9 times full scale in digital silence: warnings are errors here.
    bins, hz_per_bin = 4096, 2.0
    power = np.zeros(bins)
    for order in range(1, 11):
        power[int(order * F1_HZ / hz_per_bin)] = 1e18
    frame = SimpleNamespace(
        long_frame=(hz_per_bin * np.arange(bins), power, np.zeros(bins)), rate_hz=16_384.0
    )
    peaks_hz, f0_hz, _ = find_peaks([cast("PluckSignal", frame)], [220.0])[0]
    assert peaks_hz[:10] == pytest.approx(F1_HZ * np.arange(1, 11), abs=hz_per_bin)
    assert f0_hz == pytest.approx(F1_HZ, abs=hz_per_bin)


def test_two_partials_say_nothing_of_the_stretch() -> None:
    """Two points lie on a line of any slope: B stays as the first look found it."""
    rate_hz, time_s = 48000.0, np.arange(96000) / 48000.0
    tones = sum(np.sin(2.0 * np.pi * hz * time_s) for hz in (220.0, 441.3))
    hiss = np.random.default_rng(2).normal(0.0, 1e-3, time_s.size)
    noise = white_noise(2e-5 / rate_hz, rate_hz=rate_hz)  # ten times the hiss: no peak of it counts
    signal = PluckSignal(tones + hiss, rate_hz, 220.0, noise)
    ((peaks_hz, _, stretch),) = find_peaks([signal], [220.0])
    assert np.flatnonzero(np.isfinite(peaks_hz)).tolist() == [0, 1]
    # The first look tries B = 0 and 1e-5 · 1.33^k.
    tried = np.concatenate([[0.0], 1e-5 * 1.33 ** np.arange(19)])
    assert np.min(np.abs(tried - stretch)) == pytest.approx(0.0, abs=1e-12)
