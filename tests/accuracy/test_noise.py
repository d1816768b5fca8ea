"""Accuracy of the noise measures over a grid, and whether their uncertainties tell the truth.

Bars: hum 0.1 dB and hiss 0.2 dB where a loud note stands 60 dB above the noise, 0.2 and 0.3 dB at
45 dB; mains frequency 0.005 Hz from 2 s. Each quiet here is 2 s long, hum at -60 dBFS, and the
note's level is taken as -15 dBFS, so that the hiss stands at -75 and -60 dBFS.
"""

from __future__ import annotations

import numpy as np
import pytest
from quiet_truth import falling_hum, white

from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet


def _errors(
    *, rate_hz: float, hiss_dbfs: float, bits: int, trials: int, seed: int
) -> dict[str, np.ndarray]:
    """Errors (trials,) and errors over the stated uncertainty, by quantity."""
    rng = np.random.default_rng(seed)
    n = int(2.0 * rate_hz)
    rows: dict[str, list[float]] = {}
    for trial in range(trials):
        mains_hz = (50.0, 60.0)[trial % 2] * (1.0 + rng.uniform(-0.008, 0.008))
        x = falling_hum(-60.0, rng, mains_hz=mains_hz, n=n, rate_hz=rate_hz)
        x += white(hiss_dbfs, rng, n=n, rate_hz=rate_hz)
        steps = 2.0 ** (bits - 1)
        x = np.round(x * steps) / steps
        result = measure_quiet(x, rate_hz=rate_hz)
        truth = {"mains_hz": mains_hz, "hum_dbfs": -60.0, "hiss_dbfs": hiss_dbfs}
        for name, true in truth.items():
            measured = result.quantities[name]
            assert measured.value is not None
            assert measured.uncertainty is not None
            rows.setdefault(name, []).append(measured.value - true)
            rows.setdefault(name + " z", []).append((measured.value - true) / measured.uncertainty)
    return {name: np.array(values) for name, values in rows.items()}


@pytest.mark.parametrize("rate_hz", [44100.0, 48000.0, 96000.0])
@pytest.mark.parametrize(
    ("hiss_dbfs", "hum_bar", "hiss_bar"), [(-75.0, 0.1, 0.2), (-60.0, 0.2, 0.3)]
)
@pytest.mark.parametrize("bits", [16, 24])
def test_bars(rate_hz: float, hiss_dbfs: float, hum_bar: float, hiss_bar: float, bits: int) -> None:
    errors = _errors(rate_hz=rate_hz, hiss_dbfs=hiss_dbfs, bits=bits, trials=6, seed=11)
    assert np.abs(errors["hum_dbfs"]).max() < hum_bar
    assert np.abs(errors["hiss_dbfs"]).max() < hiss_bar
    assert np.abs(errors["mains_hz"]).max() < 0.005


def test_stated_uncertainties_hold() -> None:
    errors = _errors(rate_hz=44100.0, hiss_dbfs=-75.0, bits=24, trials=150, seed=12)
    for name in ("mains_hz z", "hum_dbfs z", "hiss_dbfs z"):
        inside_68 = np.mean(np.abs(errors[name]) < 1.0)
        inside_95 = np.mean(np.abs(errors[name]) < 1.96)
        # 150 trials: the shares of a true normal scatter by 0.038 and 0.018; three of those.
        assert 0.68 - 0.114 < inside_68 < 0.68 + 0.14, name
        assert inside_95 > 0.95 - 0.054, name


def test_noise_alone_is_no_mains_and_has_no_tones() -> None:
    rng = np.random.default_rng(13)
    for _ in range(100):
        result = measure_quiet(white(-80.0, rng, n=44100, rate_hz=44100.0), rate_hz=44100.0)
        assert result.quantities["mains_hz"].value is None
        assert result.flags == ()
