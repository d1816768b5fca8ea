"""Octave bands of a pluck: closed forms, an independent filter bank, and how sure they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.signal
from pluck_truth import RATE_HZ, signal, white_noise

from tonecompare.measure.pluck.level_and_attack import measure_level
from tonecompare.measure.pluck.octave_bands import band_response, measure_bands
from tonecompare.measure.signal import PluckSignal
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS

_T = np.arange(round(1.5 * RATE_HZ)) / RATE_HZ


def _row(f0_hz: float) -> np.ndarray:
    """Return a row of 110 partials falling by 1/n, high ones faster, phases at random."""
    rng = np.random.default_rng(7)
    x = np.zeros_like(_T)
    for n in range(1, 111):
        wave = np.cos(2.0 * np.pi * n * f0_hz * _T + rng.uniform(0.0, 2.0 * np.pi))
        x += 0.2 / n * np.exp(-(2.0 + 0.05 * n) * _T) * wave
    return np.where(_T < 0.01, x * _T / 0.01, x)


def _values(found: dict, columns: tuple[str, ...]) -> np.ndarray:
    values = [found[column].value for column in columns]
    return np.array([np.nan if value is None else value for value in values])


def test_middles_and_edges_are_those_of_the_standard() -> None:
    # IEC 61260-1 base ten: 1000 · 10^(3n/10); edges 10^(±3/20) about it (from memory).
    middles = [63.096, 125.89, 251.19, 501.19, 1000.0, 1995.3, 3981.1, 7943.3]
    assert [band.mid_hz for band in BANDS] == pytest.approx(middles, rel=1e-4)
    edges = [band.edges_hz for band in BANDS]
    assert edges[4] == pytest.approx((707.95, 1412.5), rel=1e-4)
    assert [high for _, high in edges[:-1]] == pytest.approx([low for low, _ in edges[1:]])


def test_the_filter_is_of_class_1() -> None:
    # IEC 61260-1:2014, Table 1, class 1 for octave bands: frequency over the middle (powers of
    # G = 10^0.3) and least and most attenuation in dB (from memory).
    limits = {0.0: (-0.4, 0.4), 1 / 8: (-0.4, 0.5), 1 / 4: (-0.4, 0.7), 3 / 8: (-0.4, 1.4),
              0.499: (-0.4, 5.3), 0.501: (1.6, np.inf), 1.0: (16.6, np.inf), 2.0: (40.5, np.inf),
              3.0: (60.0, np.inf), 4.0: (70.0, np.inf)}  # fmt: skip
    for power, (least, most) in limits.items():
        for sign in (-1.0, 1.0):
            hz = 1000.0 * 10.0 ** (0.3 * sign * power)
            passed = float(band_response(np.array([hz]), BANDS[4])[0])
            loss_db = -10.0 * np.log10(max(passed, 1e-30))
            assert least <= loss_db <= most, (power, loss_db)


@pytest.mark.parametrize("index", range(len(BANDS)))
def test_a_sine_reads_its_level_in_its_band_and_not_elsewhere(index: int) -> None:
    # A sine of amplitude 0.1 is -20 dBFS (AES17).
    x = 0.1 * np.sin(2.0 * np.pi * BANDS[index].mid_hz * _T + 0.3)
    levels = _values(measure_bands(PluckSignal(x, RATE_HZ, None, None)), BAND_LEVELS)
    assert levels[index] == pytest.approx(-20.0, abs=0.01)
    # Beside it only what starting it all at once spreads.
    assert np.all(np.delete(levels, index) < -60.0)


def test_a_sine_at_an_edge_divides_evenly() -> None:
    x = 0.1 * np.sin(2.0 * np.pi * BANDS[4].edges_hz[1] * _T)
    levels = _values(measure_bands(PluckSignal(x, RATE_HZ, None, None)), BAND_LEVELS)
    assert levels[4:6] == pytest.approx([-23.01, -23.01], abs=0.02)


def test_the_bands_add_up_to_the_level() -> None:
    # Parseval: what lies between 45 Hz and 11.2 kHz is the whole of this row, which ends at 10.5.
    # Its fundamental stands beside an edge: none of it may be lost to the band below (0.14 dB).
    # Partials of different bands beat at 95 Hz, of which 0.5 s leave 1/(pi 95 0.5) = 0.7 %.
    pluck = PluckSignal(_row(95.0), RATE_HZ, 95.0, None)
    found = measure_bands(pluck)
    level = measure_level(pluck)["level_dbfs"].value
    total = 10.0 * np.log10(np.nansum(10.0 ** (_values(found, BAND_LEVELS) / 10.0)))
    assert total == pytest.approx(level, abs=0.03)
    shapes = _values(found, BAND_SHAPES)
    assert np.nansum(10.0 ** (shapes / 10.0)) == pytest.approx(1.0, abs=1e-9)


def test_a_decaying_partial_reads_its_mean_square() -> None:
    # Mean of exp(-2 sigma t) over 0.05-0.55 s, closed form; sigma = 3 ln 10/T60.
    sigma = 3.0 * np.log(10.0) / 2.0
    x = 0.5 * np.exp(-sigma * _T) * np.cos(2.0 * np.pi * 1000.0 * _T)
    mean = 0.25 * (np.exp(-0.1 * sigma) - np.exp(-1.1 * sigma)) / (2.0 * sigma * 0.5)
    level = measure_bands(PluckSignal(x, RATE_HZ, None, None))["band_1000_db"].value
    assert level == pytest.approx(10.0 * np.log10(mean), abs=0.02)


def test_an_independent_filter_bank_agrees() -> None:
    # Butterworth band-passes of order 6 (SciPy), whose edges pass half the power at the same
    # places. Their skirts and ours differ within a quarter octave of an edge, where one partial of
    # the few in a low band may lie: 0.5 dB there, 0.2 dB in the bands of many partials.
    x = _row(95.0)
    levels = _values(measure_bands(PluckSignal(x, RATE_HZ, 95.0, None)), BAND_LEVELS)
    first, last = round(0.05 * RATE_HZ), round(0.55 * RATE_HZ)
    for band, ours in list(zip(BANDS, levels, strict=True))[1:]:
        sos = scipy.signal.butter(6, band.edges_hz, "bandpass", fs=RATE_HZ, output="sos")
        passed = scipy.signal.sosfilt(sos, x)[first:last]
        other = 10.0 * np.log10(2.0 * np.mean(passed**2))
        assert ours == pytest.approx(other, abs=0.5 if band.nominal_hz < 1000 else 0.2), band


def test_bands_without_partial_quiet_or_range_are_empty_and_say_why() -> None:
    found = measure_bands(signal(_row(196.0), 196.0, snr_db=30.0))
    assert found["band_0063_db"].reason == "no partial lies in this band"
    assert found["shape_0125_db"].reason == "no partial lies in this band"
    assert found["band_0250_db"].value is not None
    slow = measure_bands(PluckSignal(_row(196.0)[::2], RATE_HZ / 2.0, 196.0, None))
    assert slow["band_8000_db"].reason == "the sampling rate is too low for this band"
    assert slow["band_4000_db"].value is not None
    hidden = measure_bands(signal(0.1 * np.sin(2.0 * np.pi * 500.0 * _T), 500.0, snr_db=20.0))
    assert hidden["band_4000_db"].reason == "does not stand above the quiet"
    short = measure_bands(PluckSignal(_row(196.0)[:4000], RATE_HZ, 196.0, None))
    assert "rang for only" in short["shape_1000_db"].reason


def test_a_louder_pluck_moves_no_shape() -> None:
    x = _row(95.0)
    soft, loud = (measure_bands(PluckSignal(k * x, RATE_HZ, 95.0, None)) for k in (0.1, 0.2))
    gain_db = _values(loud, BAND_LEVELS)[1:] - _values(soft, BAND_LEVELS)[1:]
    assert gain_db == pytest.approx(20.0 * np.log10(2.0), abs=1e-3)
    shapes = _values(loud, BAND_SHAPES)[1:] - _values(soft, BAND_SHAPES)[1:]
    assert shapes == pytest.approx(0.0, abs=1e-3)


def test_stated_uncertainty_holds_in_noise() -> None:
    # White noise of a known density: the 68 % of errors within one standard error, by 60 draws of
    # 8 bands (±4 % by chance if the draws' bands are independent).
    rng = np.random.default_rng(5)
    x = 0.02 * _row(95.0)
    truth = _values(measure_bands(PluckSignal(x, RATE_HZ, 95.0, None, onset_sd_s=1e-9)),
                    BAND_LEVELS)  # fmt: skip
    density = 2.0e-10 / RATE_HZ
    errors = []
    for _ in range(60):
        hiss = rng.normal(0.0, np.sqrt(density * RATE_HZ / 2.0), x.size)
        found = measure_bands(
            PluckSignal(x + hiss, RATE_HZ, 95.0, white_noise(density), onset_sd_s=1e-9)
        )
        for column, true in zip(BAND_LEVELS, truth, strict=True):
            measured = found[column]
            if measured.value is not None and measured.uncertainty is not None:
                errors.append((measured.value - true) / measured.uncertainty)
    assert len(errors) > 300
    assert 0.6 < float(np.mean(np.abs(errors) < 1.0)) < 0.85
    assert float(np.mean(np.abs(errors) < 2.0)) > 0.92


@pytest.mark.parametrize("line_hz", [100.3, 131.3])
def test_a_mains_line_beside_a_partial_is_in_the_uncertainty(line_hz: float) -> None:
    # A line 40 dB below a partial of 100 Hz: x² has 2 sqrt(P L) cos(phase) sinc(offset · 0.5 s),
    # which beside it is up to 2 % of the power (0.087 dB) and 31.3 Hz off a fiftieth of that.
    rng = np.random.default_rng(9)
    partial = 0.1 * np.cos(2.0 * np.pi * 100.0 * _T + 0.4)
    noise = replace(
        white_noise(1e-18), mains_hz=line_hz, line_hz=np.array([line_hz]),
        line_power=np.array([0.5e-6]),
    )  # fmt: skip
    scores = []
    for _ in range(40):
        hum = 0.001 * np.cos(2.0 * np.pi * line_hz * _T + rng.uniform(0.0, 2.0 * np.pi))
        found = measure_bands(
            PluckSignal(partial + hum, RATE_HZ, 100.0, noise, onset_sd_s=1e-9)
        )["band_0125_db"]  # fmt: skip
        assert found.value is not None
        assert found.uncertainty is not None
        scores.append((found.value + 20.0) / found.uncertainty)
    assert 0.3 < float(np.sqrt(np.mean(np.square(scores)))) < 1.2
