"""Hum, buzz, hiss and mains frequency on quiets of known content, and what cannot be measured."""

from __future__ import annotations

import numpy as np
import pytest
from quiet_truth import FloatArray, falling_hum, family, sine, white

from tonecompare.errors import InputError
from tonecompare.measure.flags import BURSTS, HUM_ELSEWHERE, TONE, Flag, words
from tonecompare.measure.quiet.hum_buzz_hiss import QUANTITIES, QuietResult, measure_quiet
from tonecompare.quantities.columns import QUIET

RATE_HZ = 48000.0
N = 96000


def _value(result: QuietResult, name: str) -> float:
    value = result.quantities[name].value
    assert value is not None, f"{name}: {result.quantities[name].reason}"
    return value


def _rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def _hum_and_hiss(hum_dbfs: float = -60.0, hiss_dbfs: float = -90.0, *, n: int = N,
                  mains_hz: float = 50.03, seed: int = 1) -> FloatArray:  # fmt: skip
    rng = _rng(seed)
    hum = falling_hum(hum_dbfs, rng, mains_hz=mains_hz, n=n, rate_hz=RATE_HZ)
    return hum + white(hiss_dbfs, rng, n=n, rate_hz=RATE_HZ)


def test_a_line_of_known_level_reads_that_level() -> None:
    # AES17: a sine of amplitude 10^(-63/20) has an RMS level of -63 dBFS.
    x = sine(60.02, -63.0, n=N, rate_hz=RATE_HZ) + white(-95.0, _rng(), n=N, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert _value(result, "hum_01_dbfs") == pytest.approx(-63.0, abs=0.02)
    assert _value(result, "hum_dbfs") == pytest.approx(-63.0, abs=0.02)
    assert _value(result, "mains_hz") == pytest.approx(60.02, abs=0.005)
    assert result.quantities["hum_02_dbfs"].value is None
    assert "below the floor of -1" in result.quantities["hum_02_dbfs"].reason


def test_every_line_reads_its_own_level() -> None:
    levels = np.array([-70.0, -95.0, -72.0, -98.0, -80.0, -90.0, -75.0, -97.0, -85.0, -88.0])
    rng = _rng(2)
    x = family(np.arange(1, 11), levels, rng, mains_hz=49.9, n=N, rate_hz=RATE_HZ)
    result = measure_quiet(x + white(-100.0, rng, n=N, rate_hz=RATE_HZ), rate_hz=RATE_HZ)
    for k, level in enumerate(levels, start=1):
        # -98 dBFS stands 29 dB above what the floor puts into one line: 0.2 dB is 1.3 sigma.
        assert _value(result, f"hum_{k:02d}_dbfs") == pytest.approx(level, abs=0.4)


@pytest.mark.parametrize("mains_hz", [49.6, 50.0, 50.4, 59.5, 60.0, 60.5])
def test_mains_frequency_within_5_mhz_of_two_seconds(mains_hz: float) -> None:
    x = _hum_and_hiss(-80.0, -85.0, mains_hz=mains_hz)
    assert _value(measure_quiet(x, rate_hz=RATE_HZ), "mains_hz") == pytest.approx(
        mains_hz, abs=0.005
    )


@pytest.mark.parametrize(("hum", "hiss"), [(-50.0, -110.0), (-90.0, -60.0), (-70.0, -70.0)])
def test_hum_and_hiss_do_not_leak_into_each_other(hum: float, hiss: float) -> None:
    result = measure_quiet(_hum_and_hiss(hum, hiss), rate_hz=RATE_HZ)
    # White noise over 20 kHz and 2 s under a Hann window scatters by 0.03 dB.
    assert _value(result, "hiss_dbfs") == pytest.approx(hiss, abs=0.15)
    measured = result.quantities["hum_dbfs"]
    if hum > hiss - 25.0:
        assert measured.value == pytest.approx(hum, abs=0.05)
    else:
        assert measured.value is None
        assert measured.reason


def test_hiss_alone_has_no_hum_no_buzz_and_no_mains() -> None:
    result = measure_quiet(white(-80.0, _rng(), n=N, rate_hz=RATE_HZ), rate_hz=RATE_HZ)
    for name in ("mains_hz", "hum_dbfs", "hum_01_dbfs", "buzz_dbfs"):
        assert result.quantities[name].value is None
    assert "no mains family" in result.quantities["hum_dbfs"].reason
    assert "below about -" in result.quantities["hum_dbfs"].reason
    assert _value(result, "hiss_dbfs") == pytest.approx(-80.0, abs=0.15)
    assert result.flags == ()


@pytest.mark.parametrize("with_hum", [True, False])
def test_buzz_is_lines_above_1_khz_only(with_hum: bool) -> None:
    rng = _rng(3)
    orders = np.arange(22, 300, 2)
    levels = np.full(orders.size, -70.0 - 10.0 * np.log10(orders.size))
    x = family(orders, levels, rng, mains_hz=50.03, n=N, rate_hz=RATE_HZ)
    x += white(-95.0, rng, n=N, rate_hz=RATE_HZ)
    if with_hum:
        x += falling_hum(-60.0, rng, mains_hz=50.03, n=N, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert _value(result, "buzz_dbfs") == pytest.approx(-70.0, abs=0.05)
    assert _value(result, "hiss_dbfs") == pytest.approx(-95.0, abs=0.15)
    if with_hum:
        assert _value(result, "hum_dbfs") == pytest.approx(-60.0, abs=0.02)
    else:
        assert result.quantities["hum_dbfs"].value is None


def test_drift_of_the_mains_does_no_harm() -> None:
    # 10 mHz/s over 10 s moves line 10 by 1 Hz: ten bins of a 10 s spectrum.
    n, rng = 10 * N // 2, _rng(4)
    x = falling_hum(-65.0, rng, mains_hz=50.0, n=n, rate_hz=RATE_HZ, drift_hz_per_s=0.01)
    x += white(-90.0, rng, n=n, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert _value(result, "hum_dbfs") == pytest.approx(-65.0, abs=0.02)
    assert _value(result, "hiss_dbfs") == pytest.approx(-90.0, abs=0.08)
    assert _value(result, "mains_hz") == pytest.approx(50.0, abs=0.001)


def test_drift_inside_one_frame_keeps_buzz_out_of_the_hiss() -> None:
    # 10 mHz/s over 2 s smears line 200 over 4 Hz, eight bins.
    rng = _rng(10)
    orders = np.arange(22, 300, 2)
    levels = np.full(orders.size, -75.0 - 10.0 * np.log10(orders.size))
    x = family(orders, levels, rng, mains_hz=50.0, n=N, rate_hz=RATE_HZ, drift_hz_per_s=0.01)
    x += falling_hum(-60.0, rng, mains_hz=50.0, n=N, rate_hz=RATE_HZ, drift_hz_per_s=0.01)
    result = measure_quiet(x + white(-90.0, rng, n=N, rate_hz=RATE_HZ), rate_hz=RATE_HZ)
    assert _value(result, "buzz_dbfs") == pytest.approx(-75.0, abs=0.1)
    assert _value(result, "hiss_dbfs") == pytest.approx(-90.0, abs=0.15)
    assert result.flags == ()


@pytest.mark.parametrize("length_s", [0.2, 0.3, 0.5, 1.0])
def test_short_stretches_still_tell_lines_apart(length_s: float) -> None:
    result = measure_quiet(_hum_and_hiss(n=int(length_s * RATE_HZ)), rate_hz=RATE_HZ)
    assert _value(result, "hum_dbfs") == pytest.approx(-60.0, abs=0.03)
    assert _value(result, "hum_10_dbfs") == pytest.approx(-81.90, abs=0.3)
    assert _value(result, "mains_hz") == pytest.approx(50.03, abs=0.005)
    hiss = result.quantities["hiss_dbfs"]
    assert hiss.value is not None
    assert hiss.uncertainty is not None
    assert hiss.value == pytest.approx(-90.0, abs=3.5 * hiss.uncertainty)


def test_a_whistle_is_named_and_is_neither_hum_nor_hiss() -> None:
    x = _hum_and_hiss() + sine(7999.0, -60.0, n=N, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert result.flags == (Flag(TONE, (7999,)),)
    assert _value(result, "hum_dbfs") == pytest.approx(-60.0, abs=0.02)
    assert _value(result, "hiss_dbfs") == pytest.approx(-90.0, abs=0.15)
    # It is heard, so it counts in the A-weighted noise: A(7999 Hz) = -1.14 dB (IEC 61672-1).
    assert _value(result, "noise_a_dbfs") == pytest.approx(-61.0, abs=0.2)


def test_a_string_left_ringing_beside_a_line_is_not_hum() -> None:
    # E2 partial 3 (247.22 Hz) stands 2.8 Hz beside line 5 of 50 Hz.
    x = _hum_and_hiss(-80.0, -95.0, mains_hz=50.0)
    x += sine(247.22, -70.0, n=N, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert Flag(TONE, (247,)) in result.flags
    assert _value(result, "hum_dbfs") == pytest.approx(-80.0, abs=0.1)
    assert _value(result, "hum_05_dbfs") == pytest.approx(-95.9, abs=0.5)


def test_clicks_are_named_and_stepped_around() -> None:
    x, rng = _hum_and_hiss(seed=5), _rng(6)
    for start in (20000, 70000):
        x[start : start + 60] += 0.05 * rng.standard_normal(60)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert result.flags == words(BURSTS)
    assert _value(result, "hiss_dbfs") == pytest.approx(-90.0, abs=0.25)
    assert _value(result, "hum_dbfs") == pytest.approx(-60.0, abs=0.03)


def test_phone_like_bursts_are_named_and_stepped_around() -> None:
    # Time-division telephony: 0.577 ms in every 4.615 ms (M), here for a quarter of a second.
    x, rng = _hum_and_hiss(seed=7), _rng(8)
    t = np.arange(N) / RATE_HZ
    on = (np.mod(t, 4.615e-3) < 0.577e-3) & (t > 0.9) & (t < 1.15)
    x += np.where(on, 0.01, 0.0) * (1.0 + 0.2 * rng.standard_normal(N))
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert Flag(BURSTS) in result.flags
    assert _value(result, "hiss_dbfs") == pytest.approx(-90.0, abs=0.25)


def test_mains_synchronous_pulses_are_buzz_not_bursts() -> None:
    # A pulse 100 times a second: lines at every 100 Hz, no burst.
    x = white(-95.0, _rng(9), n=N, rate_hz=RATE_HZ)
    x[::480] += 0.003
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert Flag(BURSTS) not in result.flags
    # Each line 2·0.003/480: 199 - 10 lines between 1 kHz and 20 kHz (1 kHz itself is hum).
    expected = 20.0 * np.log10(2.0 * 0.003 / 480.0) + 10.0 * np.log10(190.0)
    assert _value(result, "buzz_dbfs") == pytest.approx(expected, abs=0.1)
    assert _value(result, "hiss_dbfs") == pytest.approx(-95.0, abs=0.15)


def test_offset_is_removed_and_flagged() -> None:
    result = measure_quiet(_hum_and_hiss() + 0.002, rate_hz=RATE_HZ)
    assert result.flags == words("dc-offset")
    assert _value(result, "hum_dbfs") == pytest.approx(-60.0, abs=0.02)
    assert measure_quiet(_hum_and_hiss() + 0.0005, rate_hz=RATE_HZ).flags == ()


@pytest.mark.parametrize("kind", ["zeros", "gate", "constant"])
def test_digital_silence_is_said_and_nothing_is_zero(kind: str) -> None:
    x = _hum_and_hiss()
    if kind == "gate":
        x[N // 2 :] = 0.0
    else:
        x = np.full(N, 0.0 if kind == "zeros" else 0.25)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert Flag("digital-silence") in result.flags
    assert all(q.value is None and "digital silence" in q.reason for q in
               result.quantities.values())  # fmt: skip
    assert result.noise is None


def test_too_short_is_said() -> None:
    result = measure_quiet(np.ones(1000), rate_hz=RATE_HZ)
    assert "21 ms long; at least 100 ms" in result.quantities["hum_dbfs"].reason
    assert result.flags == words("short")


def test_a_weighted_noise_of_lines_follows_the_standard() -> None:
    # Ten lines 1/k, first at -60 dB: A-weighted -73.49 dB at 50 Hz and -71.89 at 60 Hz (worked
    # from the IEC 61672-1 formula apart from this code).
    for mains_hz, expected in ((50.0, -73.49), (60.0, -71.89)):
        first = falling_hum(0.0, _rng(), mains_hz=mains_hz, n=N, rate_hz=RATE_HZ)
        scale = 10.0 ** (-60.0 / 20.0) * np.sqrt((1.0 / np.arange(1, 11) ** 2).sum())
        x = scale * first + white(-130.0, _rng(), n=N, rate_hz=RATE_HZ)
        result = measure_quiet(x, rate_hz=RATE_HZ)
        assert _value(result, "noise_a_dbfs") == pytest.approx(expected, abs=0.03)
        # Unweighted power sum of the same lines: -58.10 dB.
        assert _value(result, "hum_dbfs") == pytest.approx(-58.10, abs=0.01)


def test_a_weighted_white_noise_is_2_05_db_lower() -> None:
    x = white(-80.0, _rng(), n=5 * N, rate_hz=RATE_HZ)
    result = measure_quiet(x, rate_hz=RATE_HZ)
    assert _value(result, "noise_a_dbfs") == pytest.approx(-82.05, abs=0.1)


def test_given_mains_chooses_the_family() -> None:
    x = sine(60.0, -70.0, n=N, rate_hz=RATE_HZ) + white(-95.0, _rng(), n=N, rate_hz=RATE_HZ)
    assert measure_quiet(x, rate_hz=RATE_HZ, mains_hz=50.0).quantities["mains_hz"].value is None
    found = measure_quiet(x, rate_hz=RATE_HZ, mains_hz=60.0)
    assert _value(found, "mains_hz") == pytest.approx(60.0, abs=0.005)


@pytest.mark.parametrize(("stands", "asked"), [(50.03, 60.0), (60.02, 50.0)])
def test_the_wrong_mains_asked_for_is_said(stands: float, asked: float) -> None:
    x = _hum_and_hiss(-60.0, -90.0, mains_hz=stands)
    flags = measure_quiet(x, rate_hz=RATE_HZ, mains_hz=asked).flags
    assert flags[0].text == f"hum-at-{stands:.0f}-hz-not-{asked:.0f}"
    for right in (stands, None):
        told = measure_quiet(x, rate_hz=RATE_HZ, mains_hz=right).flags
        assert not [flag for flag in told if flag.code == HUM_ELSEWHERE]


def test_hiss_alone_contradicts_no_mains_asked_for() -> None:
    hiss = white(-90.0, _rng(), n=N, rate_hz=RATE_HZ)
    assert measure_quiet(hiss, rate_hz=RATE_HZ, mains_hz=60.0).flags == ()


def test_keys_are_columns_and_everything_measured_has_an_uncertainty() -> None:
    result = measure_quiet(_hum_and_hiss(), rate_hz=RATE_HZ)
    assert tuple(result.quantities) == QUANTITIES
    assert set(QUANTITIES) <= set(QUIET)
    for quantity in result.quantities.values():
        if quantity.value is None:
            assert quantity.reason
        else:
            assert quantity.uncertainty is not None
            assert quantity.uncertainty > 0.0
            assert quantity.window_s == (0.0, 2.0)


def test_samples_are_left_as_they_were() -> None:
    x = _hum_and_hiss() + 0.01
    before = x.copy()
    measure_quiet(x, rate_hz=RATE_HZ)
    assert np.array_equal(x, before)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "mains_hz", "message"),
    [
        (np.zeros((2, 10)), 48000.0, None, "one channel at a time"),
        (np.array([0.0, np.nan]), 48000.0, None, "not numbers"),
        (np.zeros(10), 44.1, None, "did you give kHz"),
        (np.zeros(10), 48000.0, 400.0, "near 50 or 60"),
    ],
)
def test_unusable_input(
    samples: FloatArray, rate_hz: float, mains_hz: float | None, message: str
) -> None:
    with pytest.raises(InputError, match=message):
        measure_quiet(samples, rate_hz=rate_hz, mains_hz=mains_hz)
