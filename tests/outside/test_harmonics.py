"""Harmonic balance against closed forms of the ideal string and of the stiff one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pluck_truth import partials, series, signal

from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.pluck.harmonic_balance import measure_harmonics

ORDER = np.arange(1, 25)


def _plucked(pick: float, pickup: float) -> np.ndarray:
    """Velocity at ``pickup`` of an ideal string plucked at ``pick`` (shares of the length).

    ``a_n = sin(n pi p) sin(n pi d) / n``: the textbook plucked string, differentiated in time.
    """
    return np.sin(ORDER * np.pi * pick) * np.sin(ORDER * np.pi * pickup) / ORDER


def _odd_even_db(amplitude: np.ndarray) -> float:
    """Odd over even power of the signal itself, in dB."""
    power = amplitude**2
    return float(10.0 * np.log10(power[::2].sum() / power[1::2].sum()))


@pytest.mark.parametrize(("pick", "pickup"), [(0.17, 0.07), (0.12, 0.24), (0.26, 0.2), (0.3, 0.15)])
def test_odd_and_even_partials_balance_while_pick_and_pickup_stay_near_the_bridge(
    pick: float, pickup: float
) -> None:
    # sum (-1)^n cos(n x)/n² = x²/4 - pi²/12 for |x| <= pi (Fourier series of x², any handbook).
    # sin² sin² is 1/4 (1 - cos 2a - cos 2b + cos(2a+2b)/2 + cos(2a-2b)/2), so that the alternating
    # sum of a_n² is exactly 0 when 2 pi (p + d) <= pi: odd and even carry the same power, wherever
    # the pick and the pickup are, as long as p + d <= 1/2. 24 partials leave 0.15 dB of that.
    pluck = signal(partials(ORDER * 110.0, 0.3 * _plucked(pick, pickup), 4.0), 110.0)
    found = measure_harmonics(measure_partials(pluck))["odd_even_db"].value
    assert found == pytest.approx(0.0, abs=0.15)
    assert found == pytest.approx(_odd_even_db(_plucked(pick, pickup)), abs=0.02)


def test_odd_partials_win_where_pick_and_pickup_together_pass_half_the_string() -> None:
    # Fretted at the 12th fret, p = 0.34, d = 0.28 of the sounding length. With x = 2 pi (p + d)
    # beyond pi the series holds for 2 pi - x: the alternating sum of a_n² (even less odd) is
    # ((2 pi - x)² - x²)/32 = -pi² (2 (p + d) - 1)/8.
    pick, pickup = 0.34, 0.28
    alternating = -(np.pi**2) * (2.0 * (pick + pickup) - 1.0) / 8.0

    def plain(x: float) -> float:  # sum cos(n x)/n² = pi²/6 - pi x/2 + x²/4, 0 <= x <= 2 pi
        return float(np.pi**2 / 6.0 - np.pi * x / 2.0 + x * x / 4.0)

    a, b = 2.0 * np.pi * pick, 2.0 * np.pi * pickup
    total = (plain(0.0) - plain(a) - plain(b) + 0.5 * (plain(a + b) + plain(abs(a - b)))) / 4.0
    closed_db = 10.0 * np.log10((total - alternating) / (total + alternating))
    pluck = signal(partials(ORDER * 220.0, 0.3 * _plucked(pick, pickup), 4.0), 220.0)
    found = measure_harmonics(measure_partials(pluck))["odd_even_db"].value
    assert found == pytest.approx(closed_db, abs=0.2)
    assert closed_db > 3.0


def test_partials_of_a_stiff_string() -> None:
    # f_n = n f0 sqrt(1 + B n²) (Fletcher, J. Acoust. Soc. Am. 36 (1964) 203). For B = 1e-4 partials
    # 10 and 20 lie 8.53 and 33.9 cents above n f_1: 1200 log2 sqrt((1 + B n²)/(1 + B)).
    row = measure_partials(signal(series(110.0, n=24, stretch=1e-4), 110.0, snr_db=60.0))
    cents = 1200.0 * np.log2(row.frequency_hz / (ORDER * row.frequency_hz[0]))
    assert cents[9] == pytest.approx(8.53, abs=0.05)
    assert cents[19] == pytest.approx(33.9, abs=0.1)
    assert row.inharmonicity == pytest.approx(1e-4, rel=0.005)


@pytest.mark.parametrize(("n", "ratio"), [(10, 3.23546), (20, 3.11975)])
def test_odd_over_even_of_a_saw_tooth(n: int, ratio: float) -> None:
    # Sum of 1/n² over odd n over that over even n, N partials (3 for N without end).
    row = measure_partials(signal(series(147.0, n=n), 147.0))
    found = measure_harmonics(row)["odd_even_db"].value
    assert found == pytest.approx(10.0 * np.log10(ratio), abs=0.01)


def _inharmonicity(path: Path) -> float:
    from takes_truth import load

    from tonecompare.measure.take import pluck_signal

    (take,), _ = load([path])
    pluck = max(take.plucks, key=lambda each: each.ring_s)
    row = measure_partials(pluck_signal(take, pluck, 1, None))
    return row.inharmonicity


def test_half_the_string_is_four_times_as_stiff(recordings: Path) -> None:
    # B = pi³ E d⁴/(64 T L²) (Fletcher 1964): at the 12th fret L is half and T nearly the same, so
    # that B is 4 times that of the open string; fretting pulls T up a little, which lowers it.
    folder = recordings / "long-decays"
    strings = ("1{}-Low-E{}", "2{}-A{}", "3{}-D{}", "4{}-G{}", "5{}-B{}", "6{}-High-E{}")
    open_, half = (
        np.array([_inharmonicity(folder / (s.format(*which) + ".flac")) for s in strings])
        for which in (("a", ""), ("b", "-12th"))
    )
    assert half / open_ == pytest.approx(np.full(6, 4.0), rel=0.12)
    # The plain G is stiffer than the wound D beside it, as reported for electric guitars (Fastl &
    # Völk, abstract), and the thinnest string the least stiff of all.
    assert open_[3] > 1.3 * open_[2]
    assert open_.argmin() == 5
