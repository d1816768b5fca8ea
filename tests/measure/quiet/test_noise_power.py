"""The noise model handed on: power in a band, density, pooling, and the curve for charts."""

from __future__ import annotations

import numpy as np
import pytest
from quiet_truth import falling_hum, sine, white

from tonecompare.errors import InputError
from tonecompare.measure.model import Noise
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult, measure_quiet
from tonecompare.measure.quiet.noise_power import density_at, pool_noise
from tonecompare.units import mean_square_to_dbfs

RATE_HZ = 48000.0
N = 96000


def _flat(density: float, *, mains_hz: float | None = 50.0, length_s: float = 1.0,
          rate_hz: float = RATE_HZ) -> Noise:  # fmt: skip
    grid = np.linspace(0.0, rate_hz / 2.0, 1001)
    count = 0 if mains_hz is None else 4
    return Noise(
        rate_hz=rate_hz,
        frequency_hz=grid,
        density=np.full(grid.size, density),
        mains_hz=mains_hz,
        line_hz=(mains_hz or 0.0) * np.arange(1, count + 1),
        line_power=np.array([4.0, 3.0, 2.0, 1.0])[:count],
        length_s=length_s,
    )


def _result(seed: int = 1) -> QuietResult:
    rng = np.random.default_rng(seed)
    x = falling_hum(-60.0, rng, mains_hz=50.03, n=N, rate_hz=RATE_HZ)
    return measure_quiet(x + white(-90.0, rng, n=N, rate_hz=RATE_HZ), rate_hz=RATE_HZ)


def test_density_is_linear_between_points_and_none_above_half_the_rate() -> None:
    grid = np.array([0.0, 10.0, 20.0])
    noise = Noise(40.0, grid, np.array([1.0, 3.0, 2.0]), None, np.zeros(0), np.zeros(0), 1.0)
    assert density_at(noise, [5.0, 10.0, 12.0, 25.0]) == pytest.approx([2.0, 3.0, 2.8, 0.0])


def test_measured_noise_adds_up_to_what_went_in() -> None:
    noise = _result().noise
    assert noise is not None
    step_hz = noise.frequency_hz[1] - noise.frequency_hz[0]
    heard = (noise.frequency_hz >= 20.0) & (noise.frequency_hz <= 20000.0)
    floor = float(noise.density[heard].sum() * step_hz)
    assert mean_square_to_dbfs(floor) == pytest.approx(-90.0, abs=0.15)
    whole = floor + float(noise.line_power.sum())
    # -60 dBFS of hum and -90 dBFS of hiss: 10 lg(10^-6 + 10^-9).
    assert mean_square_to_dbfs(whole) == pytest.approx(-59.996, abs=0.02)
    # A white floor: density = mean square over 24 kHz everywhere.
    expected = 0.5 * 10.0**-9.0 / 19980.0
    assert density_at(noise, [300.0, 1000.0, 10000.0]) == pytest.approx([expected] * 3, rel=0.35)
    assert noise.mains_hz == pytest.approx(50.03, abs=1e-3)
    assert noise.line_hz.shape == noise.line_power.shape
    assert mean_square_to_dbfs(noise.line_power[0]) == pytest.approx(-61.90, abs=0.02)


def test_a_line_that_does_not_stand_out_has_no_power_in_the_model() -> None:
    x = sine(60.0, -70.0, n=N, rate_hz=RATE_HZ)
    x += white(-90.0, np.random.default_rng(3), n=N, rate_hz=RATE_HZ)
    noise = measure_quiet(x, rate_hz=RATE_HZ).noise
    assert noise is not None
    assert np.count_nonzero(noise.line_power[1:16]) <= 1
    assert noise.line_power[0] == pytest.approx(0.5e-7, rel=0.01)


def test_pooled_noise_weighs_by_length() -> None:
    pooled = pool_noise([_flat(1.0, length_s=1.0), _flat(4.0, length_s=3.0, mains_hz=None)])
    assert pooled.density == pytest.approx(np.full(1001, 3.25))
    assert pooled.line_power == pytest.approx([1.0, 0.75, 0.5, 0.25])
    assert pooled.length_s == 4.0
    assert pooled.mains_hz == 50.0
    assert pool_noise([_flat(2.0)]).density[0] == 2.0


def test_pooling_refuses_nothing_and_mixed_rates() -> None:
    with pytest.raises(InputError, match="no quiet stretch to pool"):
        pool_noise([])
    with pytest.raises(InputError, match="44100 Hz, 48000 Hz"):
        pool_noise([_flat(1.0), _flat(1.0, rate_hz=44100.0)])


def test_curve_is_fine_below_2_khz_and_carries_the_power() -> None:
    curves = _result().curves
    assert curves is not None
    low = curves.frequency_hz < 1900.0
    assert curves.bandwidth_hz == pytest.approx(1.0)
    assert np.diff(curves.frequency_hz[low]) == pytest.approx(1.0)
    near = np.abs(curves.frequency_hz - 50.0) < 3.0
    power = 10.0 ** (curves.level_dbfs[near] / 10.0)
    assert 10.0 * np.log10(power.sum()) == pytest.approx(-61.90, abs=0.05)
    # A floor of -90 dBFS over 20 kHz is -133 dBFS in each 1 Hz, coarse bands included.
    high = curves.frequency_hz > 4000.0
    assert np.median(curves.level_dbfs[high]) == pytest.approx(-133.0, abs=0.3)
    assert np.diff(curves.frequency_hz).min() > 0.0
