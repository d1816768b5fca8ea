"""Harmonic balance and brightness against the closed forms of partials 1/n and others."""

from __future__ import annotations

import numpy as np
import pytest
from pluck_truth import RATE_HZ, partials, series, signal, white_noise

from tonecompare.measure.measured import Measured
from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.pluck.harmonic_balance import measure_harmonics
from tonecompare.measure.signal import PluckSignal


def _measured(pluck: PluckSignal) -> dict[str, Measured]:
    return measure_harmonics(measure_partials(pluck))


def _value(quantities: dict[str, Measured], name: str) -> float:
    value = quantities[name].value
    assert value is not None, quantities[name].reason
    return value


def test_closed_forms_of_ten_partials_one_over_n() -> None:
    # a_n = 1/n, N = 10: odd/even energy 3.23546; tristimulus (amplitude form, Pollard & Jansson
    # 1982) 0.341417, 0.369869, 0.288714; power shares 1/n² over their sum 1.549768.
    found = _measured(signal(series(196.0, t60_s=6.0), 196.0))
    assert _value(found, "odd_even_db") == pytest.approx(10.0 * np.log10(3.23546), abs=0.01)
    for number, true in enumerate((0.341417, 0.369869, 0.288714), start=1):
        assert _value(found, f"tristimulus_{number}") == pytest.approx(true, abs=3e-4)
    for n in range(1, 11):
        true_db = -10.0 * np.log10(n**2 * 1.549768)
        assert _value(found, f"h{n:02d}_db") == pytest.approx(true_db, abs=0.01)


@pytest.mark.parametrize("slope", [1.0, 2.0])
def test_tilt_of_a_power_law(slope: float) -> None:
    # a_n = n^-s falls by 6.0206 s dB per octave.
    found = _measured(signal(series(110.0, n=20, slope=slope), 110.0))
    assert _value(found, "tilt_db_per_octave") == pytest.approx(-6.0206 * slope, abs=0.05)


@pytest.mark.parametrize("stretch", [1.3e-5, 1e-4, 5e-4])
def test_inharmonicity_and_first_partial_come_back(stretch: float) -> None:
    # f_n = n f sqrt(1 + B n²) (Fletcher 1964).
    pluck = signal(series(110.0, n=20, stretch=stretch), 110.3, snr_db=60.0)
    row = measure_partials(pluck)
    assert 1200.0 * np.log2(row.f0_hz / 110.0) == pytest.approx(0.0, abs=0.02)
    assert row.inharmonicity == pytest.approx(stretch, rel=0.01, abs=2e-7)


def test_missing_fundamental_is_still_the_note() -> None:
    x = partials(110.0 * np.arange(2, 12), 0.1 / np.arange(2, 12), 4.0)
    row = measure_partials(signal(x, 110.0, snr_db=60.0))
    assert row.f0_hz == pytest.approx(110.0, rel=1e-5)
    assert not row.measured[0]
    assert row.reason[0] == "does not stand above the noise"


def test_hum_on_a_partial_is_taken_out() -> None:
    # A2's partial 5 = 550 Hz is line 11 of 50 Hz; the line stands 10 dB under the partial.
    x = series(110.0, n=10)
    level = 0.1 / 5.0
    hum = level * 10.0**-0.5 * np.cos(2.0 * np.pi * 550.0 * np.arange(x.size) / RATE_HZ + 1.0)
    density = 1e-12
    noise = np.random.default_rng(3).normal(0.0, np.sqrt(density * RATE_HZ / 2.0), x.size)
    lines = [0.0] * 10 + [level**2 * 0.1 / 2.0]
    model = white_noise(density, mains_hz=50.0, line_power=lines)
    known = PluckSignal(x + hum + noise, RATE_HZ, 110.0, model)
    unknown = PluckSignal(x + hum + noise, RATE_HZ, 110.0, white_noise(density))
    true_db = -10.0 * np.log10(25.0 * 1.549768)
    assert _value(_measured(known), "h05_db") == pytest.approx(true_db, abs=0.05)
    assert abs(_value(_measured(unknown), "h05_db") - true_db) > 0.2


def test_what_cannot_be_measured_has_a_reason_and_no_number() -> None:
    found = _measured(signal(series(1000.0, n=4), 1000.0, snr_db=60.0))
    assert found["h12_db"].value is None
    assert found["h12_db"].reason == "does not stand above the noise"
    high = _measured(signal(series(1200.0, n=4), 1200.0, snr_db=60.0))
    assert high["h24_db"].reason == "above the band of the recording"
    silent = _measured(signal(np.zeros(96000), None))
    assert {m.value for m in silent.values()} == {None}
    assert all(m.reason for m in silent.values())


def test_weak_partials_have_wider_intervals_that_hold() -> None:
    errors = []
    for seed in range(20):
        pluck = signal(series(146.8, n=16, seed=seed), 146.8, snr_db=35.0, seed=seed)
        found = _measured(pluck)
        power = 1.0 / np.arange(1, 17) ** 2
        for n in (1, 4, 9, 16):
            m = found[f"h{n:02d}_db"]
            assert m.value is not None
            assert m.uncertainty is not None
            errors.append((m.value - 10.0 * np.log10(power[n - 1] / power.sum())) / m.uncertainty)
    assert 0.6 < np.mean(np.abs(errors) < 1.0) <= 0.95
    assert np.mean(np.abs(errors) < 1.96) > 0.88


def test_a_partial_in_a_node_does_not_turn_the_tilt() -> None:
    # a_n = 1/n falls by 6.02 dB per octave; partial 5 stands 50 dB lower than that.
    order = np.arange(1, 13)
    amplitude = 0.1 / order
    amplitude[4] *= 10.0**-2.5
    found = _measured(signal(partials(110.0 * order, amplitude, 5.0), 110.0))
    assert _value(found, "tilt_db_per_octave") == pytest.approx(-6.02, abs=0.15)


def test_hidden_partials_widen_the_tristimulus_and_are_covered() -> None:
    # Partials 1/n up to 8, then sixteen so weak that the noise hides most of them: what they add
    # to group 3 is missing.
    order = np.arange(1, 25)
    amplitude = np.where(order <= 8, 0.1 / order, 3e-4)
    x = partials(110.0 * order, amplitude, 5.0)
    true = float(amplitude[4:].sum() / amplitude.sum())
    off = []
    for seed in range(4):
        noisy = x + 0.03 * np.random.default_rng(seed).standard_normal(x.size)
        found = _measured(PluckSignal(noisy, RATE_HZ, 110.0, white_noise(2.0 * 9e-4 / RATE_HZ)))
        third = found["tristimulus_3"]
        assert third.value is not None
        assert third.uncertainty is not None
        off.append((third.value - true) / third.uncertainty)
    assert np.mean(off) < 0.0
    assert np.abs(off).max() < 2.5


def test_whole_multiples_are_no_strings_row() -> None:
    # What a bent coil makes of one strong partial: f, 2 f, 3 f … (B = 0), and no string has that.
    found = _measured(signal(series(660.0, n=12, slope=2.0), 660.0, snr_db=70.0))["inharmonicity"]
    assert found.value is None
    assert found.reason == "the partials lie as no string alone has them"


def test_partials_of_two_stretches_have_no_inharmonicity() -> None:
    order = np.arange(1, 21)
    stretch = np.where(order <= 8, 3e-4, 2e-5)
    hz = 110.0 * order * np.sqrt((1.0 + stretch * order**2) / (1.0 + stretch))
    found = _measured(signal(partials(hz, 0.1 / order, 6.0), 110.0, snr_db=60.0))["inharmonicity"]
    assert found.value is None
    assert found.reason == "low and high partials do not agree on one stretch"
