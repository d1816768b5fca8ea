"""The finite-difference string against textbook strings, and the string model against it.

Nothing here is shared with ``tonecompare.strings`` but the numbers of the string.
"""

from __future__ import annotations

import numpy as np
import pytest
from finite_difference_string import FdPluck, FdString, grid, scheme_hz, simulate

from tonecompare import strings as st

RATE = 44100.0
A2 = FdString(0.648, 110.0, 7e-5, (1.0, 1.0), (1e-4, 1e-4), split=0.0, stretch=0.0)
COIL = (0.150, 0.012)


def line(x: np.ndarray, hz: float) -> complex:
    """Amplitude of a steady line over a Hann window."""
    window = np.hanning(x.size)
    t = np.arange(x.size) / RATE
    return complex(2 * np.sum(x * window * np.exp(-2j * np.pi * hz * t)) / np.sum(window))


@pytest.fixture(scope="module")
def rung() -> np.ndarray:
    """A plucked string at the coil, from the release on, one second, first polarisation."""
    y, release = simulate(A2, [FdPluck(0.120, 0.5e-3, 0.0)], [COIL], n=46000, damp_s=9.0)
    assert not np.any(y[0, 1])
    return y[0, 0, 0, release:]


@pytest.mark.parametrize("hz", [82.4, 110.0, 329.6])
def test_partials_stand_where_fletcher_has_them(hz):
    string = FdString(0.648, hz, 7e-5, (1.0, 1.0), (1e-4, 1e-4))
    n = np.arange(1, 25)
    cents = 1200 * np.log2(scheme_hz(string, RATE, n) / (n * hz * np.sqrt(1 + 7e-5 * n**2)))
    # What the scheme adds is below what an ear and the inharmonicity fit notice.
    assert np.max(np.abs(cents)) < 4.5
    assert grid(string, RATE)[0] > 50


def test_it_rings_at_its_dispersion_relation_and_dies_as_stated(rung):
    n = np.array([1, 2, 3, 6])
    size = 12000
    for mode, hz in zip(n, scheme_hz(A2, RATE, n), strict=True):
        early, late = line(rung[2000 : 2000 + size], hz), line(rung[26000 : 26000 + size], hz)
        seconds = 24000 / RATE
        # σ_n = σ0 + σ1 (nπ/L)² (Bilbao 2009, eq. 7.31 ff.).
        sigma = 1.0 + 1e-4 * (mode * np.pi / 0.648) ** 2
        assert np.log(abs(early) / abs(late)) / seconds == pytest.approx(sigma, rel=0.02)
        turned = np.angle(late / early * np.exp(-2j * np.pi * hz * seconds))
        assert abs(turned) / (2 * np.pi * seconds) < 0.02


def test_partials_have_the_plucked_strings_comb(rung):
    n = np.arange(1, 7)
    level = np.array([abs(line(rung[2000:14000], hz)) for hz in scheme_hz(A2, RATE, n)])
    sigma = 1.0 + 1e-4 * (n * np.pi / 0.648) ** 2
    level *= np.exp(sigma * 8000 / RATE)
    # a_n = 2h/(n²π²β(1−β)) sin(nπβ) of a triangle, seen at d (textbook).
    beta = 0.120 / 0.648
    expected = np.abs(np.sin(n * np.pi * beta) * np.sin(n * np.pi * 0.150 / 0.648)) / n**2
    expected *= 2 * 0.5e-3 / (np.pi**2 * beta * (1 - beta))
    strong = expected > 0.02 * expected.max()
    assert strong.sum() >= 4
    found_db = 20 * np.log10(level[strong] / expected[strong])
    # The pick holds the nearest node, does not hold firmly, and scrapes.
    assert found_db == pytest.approx(0.0, abs=1.0)


def test_a_wide_swing_starts_sharp_by_its_stretching():
    stretched = FdString(0.648, 110.0, 7e-5, (1.0, 1.0), (1e-4, 1e-4), 0.0, stretch=400.0)
    f1 = float(scheme_hz(A2, RATE, np.array([1]))[0])

    def hz(string: FdString) -> float:
        y, release = simulate(string, [FdPluck(0.120, 2e-3, 0.0)], [COIL], n=20000, damp_s=9.0)
        x = y[0, 0, 0, release:]
        first, second = line(x[1000:7000], f1), line(x[11000:17000], f1)
        seconds = 10000 / RATE
        turned = np.angle(second / first * np.exp(-2j * np.pi * f1 * seconds))
        return f1 + turned / (2 * np.pi * seconds)

    cents = 1200 * np.log2(hz(stretched) / hz(A2))
    # δ e^(−2σt), δ = EA/T·h²/(8L²β(1−β)) (Legge & Fletcher 1984), over 0.09–0.32 s. Partials
    # other than the first decay faster and a few carry a part of the energy.
    beta = 0.120 / 0.648
    sharp = 400.0 * (2.0 / 648.0) ** 2 / (8 * beta * (1 - beta))
    expected = 1200 / np.log(2) * sharp * np.exp(-2 * 1.0024 * 0.204)
    assert cents == pytest.approx(expected, rel=0.12)


def test_the_string_model_agrees_on_levels_of_partials(rung):
    # The model's own pluck of the same string, sensed by a coil without circuit: velocity.
    string = st.StringSpec(5, 110.0, 4.28e-3, 7e-5, (1.0, 0.0, 0.0))
    coil = st.Coil(150.0, sensitivity=1.0)
    flat = st.Circuit(1e-6, 1.0, 1e-15, 1e12, 0.0)
    rendered = st.render_recording(
        st.InstrumentSpec("a", (string,)),
        st.VoiceSpec("v", (st.Channel("magnetic", st.Magnetic((coil,), flat)),)),
        [st.PluckSpec(0.0, 5, strength_db=20 * np.log10(0.5), angle_deg=0.0, width_mm=0.1)],
        rng=np.random.default_rng(0), rate_hz=RATE, length_s=1.0, subtype="FLOAT",
    )  # fmt: skip
    truth = rendered.truth.plucks[0].outputs[0]
    n = np.arange(1, 7)
    model = np.abs(truth.amplitude[:6, 0]) / (2 * np.pi * truth.partial_hz[:6, 0])
    fd = np.array([abs(line(rung[2000:14000], hz)) for hz in scheme_hz(A2, RATE, n)])
    fd *= np.exp((1.0 + 1e-4 * (n * np.pi / 0.648) ** 2) * 8000 / RATE)
    strong = fd > 0.02 * fd.max()
    assert 20 * np.log10(fd[strong] / model[strong]) == pytest.approx(0.0, abs=1.0)


@pytest.mark.long
def test_a_touch_at_the_end_moves_the_string_little_and_the_same_seed_gives_the_same():
    plucks = [FdPluck(0.120, 0.5e-3, 0.5), FdPluck(0.120, 0.5e-3, 0.5, touch_s=0.25)]
    one, release = simulate(A2, plucks, [COIL], n=20000, damp_s=9.0, seed=(3,))
    again, _ = simulate(A2, plucks, [COIL], n=20000, damp_s=9.0, seed=(3,))
    other, _ = simulate(A2, plucks, [COIL], n=20000, damp_s=9.0, seed=(4,))
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)
    at = release + round(0.25 * RATE)
    before, after = (
        np.sqrt(np.mean(one[1, 0, 0, first : first + 2000] ** 2))
        for first in (at - 2000, at + 5000)
    )
    assert 0.001 * before < after < 0.1 * before
