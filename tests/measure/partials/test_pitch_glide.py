"""How much sharper a note begins: closed forms, beats, a pickup in between, real dynamics."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from real_repeats import rows_of
from scipy import signal as filters

from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.partials.pitch_glide import measure_glide
from tonecompare.measure.signal import PluckSignal

RATE_HZ = 44_100.0
T60_S = 4.0
SIGMA = 3.0 * np.log(10.0) / T60_S


def note(
    *, f0_hz: float = 110.0, start_cents: float = 0.0, beats: float = 0.0, length_s: float = 3.0
) -> np.ndarray:
    """Partials 1 … 20, all sharp by ``start_cents exp(-2 sigma t)``; a second one beats beside.

    Phase: the integral of ``2 pi n f0 (1 + c exp(-2 sigma t))``, c the start's share.
    """
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    share = 2.0 ** (start_cents / 1200.0) - 1.0
    stretched = t + share * (1.0 - np.exp(-2.0 * SIGMA * t)) / (2.0 * SIGMA)
    rng = np.random.default_rng(3)
    x = np.zeros(t.size)
    for n in range(1, 21):
        f, phase, other = n * f0_hz, *rng.uniform(0.0, 2.0 * np.pi, 2)
        apart_hz = rng.uniform(-0.02, 0.02) * np.sqrt(n)
        one = np.cos(2.0 * np.pi * f * stretched + phase)
        two = beats * np.cos(2.0 * np.pi * (f + apart_hz * 20.0) * stretched + other)
        x += 0.1 / n * np.exp(-SIGMA * t) * (one + two)
    return x


def glide(x: np.ndarray, f0_hz: float = 110.0) -> tuple[float, float]:
    """Value and standard error."""
    partials = measure_partials(PluckSignal(x, RATE_HZ, f0_hz, None))
    found = measure_glide(partials)["glide_cents"]
    assert found.value is not None
    assert found.uncertainty is not None
    return found.value, found.uncertainty


def expected(start_cents: float) -> float:
    """Mean of exp(-2 sigma t) over each window (0.05-0.2, 0.5-1 s), in cents."""
    means = [
        (np.exp(-2.0 * SIGMA * a) - np.exp(-2.0 * SIGMA * b)) / (2.0 * SIGMA * (b - a))
        for a, b in ((0.05, 0.2), (0.5, 1.0))
    ]
    return start_cents * float(means[0] - means[1])


@pytest.mark.parametrize("start_cents", [0.0, 1.0, 5.0, 20.0])
@pytest.mark.parametrize("f0_hz", [82.4, 110.0, 329.6])
def test_closed_form(start_cents: float, f0_hz: float) -> None:
    # 4 %: a window weighted by power leans to its start, and the bands blur by some 10 ms.
    found, _ = glide(note(f0_hz=f0_hz, start_cents=start_cents), f0_hz)
    assert found == pytest.approx(expected(start_cents), abs=0.02 + 0.04 * start_cents)


def test_beats_are_in_the_standard_error() -> None:
    found, se = glide(note(start_cents=4.0, beats=0.3))
    assert se > 2.0 * glide(note(start_cents=4.0))[1]
    assert abs(found - expected(4.0)) < 3.0 * se


@pytest.mark.parametrize(("hz", "wide"), [(800.0, 0.5), (2000.0, 0.8)])
def test_neither_gain_nor_resonance_moves_it(hz: float, wide: float) -> None:
    # What a pickup and its circuit do to one and the same string.
    x = note(start_cents=4.0, beats=0.2)
    numerator, denominator = filters.iirpeak(hz, 1.0 / wide, fs=RATE_HZ)
    through = 0.5 * x + 2.0 * filters.lfilter(numerator, denominator, x)
    assert glide(through)[0] == pytest.approx(glide(x)[0], abs=0.05)


def test_short_note_has_none() -> None:
    partials = measure_partials(PluckSignal(note(length_s=0.6), RATE_HZ, 110.0, None))
    found = measure_glide(partials)["glide_cents"]
    assert found.value is None
    assert found.reason == "rang too short for the pitch to settle"


@pytest.mark.parametrize("guitar", ["green", "black"])
def test_harder_plucks_of_real_guitars_glide_more(recordings: Path, guitar: str) -> None:
    groups = rows_of(recordings, guitar)
    for name, rows in groups.items():
        if "_mf_" in name:
            softer = [float(str(row["glide_cents"])) for row in rows]
            harder = [float(str(r["glide_cents"])) for r in groups[name.replace("_mf_", "_f_")]]
            assert np.mean(harder) > 2.0 * np.mean(softer), name
            assert min(harder) > max(softer), name
