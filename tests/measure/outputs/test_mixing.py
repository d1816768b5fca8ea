"""What a sum of two outputs does: closed forms of delayed, inverted and unequal copies."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from two_outputs import FloatArray, Wiring, pluck

from tonecompare.measure.outputs.band_powers import (
    BAND_HZ,
    HIGH_HZ,
    LOW_HZ,
    band_cross,
    mean_cross,
    total_coherence,
)
from tonecompare.measure.outputs.mixing import (
    RATIOS,
    advise,
    blend_map,
    equal_ratio,
    find_notches,
    interaction_db,
)
from tonecompare.measure.outputs.results import BandCross, BlendPair

RATE_HZ = 48000.0


def _bands(magnetic: float, piezo: float, cross: float) -> BandCross:
    one = np.ones(BAND_HZ.size)
    return BandCross(BAND_HZ, magnetic * one, piezo * one, cross * one, np.nan * one, one)


def _noise_pair(delay_samples: int, *, polarity: int = 1, gain: float = 1.0) -> BlendPair:
    """White noise and its copy, late by whole samples."""
    noise = np.random.default_rng(5).standard_normal(60000) * 0.1
    late = polarity * gain * np.roll(noise, delay_samples)
    return BlendPair("A2", 5, 110.0, noise, late, 960, RATE_HZ)


def test_equal_copies_add_to_three_decibels_over_the_power_sum() -> None:
    # Coherent equal +6.02 dB, incoherent +3.01 dB (check-values section 7): 3.01 over it.
    assert interaction_db(_bands(1, 1, 1), 0.5, 1) == pytest.approx(3.0103, abs=1e-4)
    assert np.all(interaction_db(_bands(1, 1, 1), 0.5, -1) < -100)


def test_quadrature_neither_fills_nor_thins_at_any_ratio() -> None:
    both = blend_map(_bands(1.0, 0.3, 0.0)).interaction_db
    assert both == pytest.approx(0.0, abs=1e-12)
    advice = advise(_bands(1.0, 0.3, 0.0))
    assert advice.fuller_polarity is None
    assert advice.ratio_ranges == ((0.0, 1.0),)
    assert advice.fuller_polarity is None


@pytest.mark.parametrize(
    ("gain", "most_db", "least_db"),
    # check-values section 7: 20 lg(1+g), 20 lg(1-g).
    [(0.9, 5.58, -20.0), (0.7, 4.61, -10.46), (0.5, 3.52, -6.02), (0.25, 1.94, -2.50),
     (0.1, 0.83, -0.92)],
)  # fmt: skip
def test_unequal_gains(gain: float, most_db: float, least_db: float) -> None:
    # Both outputs equal; the ratio makes the gain: r/(1-r) = g. Level against (1-r) magnetic.
    ratio = gain / (1 + gain)
    over_sum = blend_map(_bands(1.0, 1.0, 1.0), ratio=np.array([ratio])).interaction_db
    sum_db = 10 * np.log10(1 + gain**2)
    assert over_sum[0, 0, 5] + sum_db == pytest.approx(most_db, abs=0.006)
    assert over_sum[1, 0, 5] + sum_db == pytest.approx(least_db, abs=0.006)


@pytest.mark.parametrize(("n", "rise_db"), [(1, 0.854), (3, 2.981), (10, 2.970)])
def test_ideal_blend_of_force_and_velocity(n: int, rise_db: float) -> None:
    # |F + g v| = sqrt(1 + g² sin²) whatever the polarity, d = 100 mm of 648, g = 1
    # (check-values section 7). A plucked string in closed form, each partial in a band of its own.
    pair = pluck(
        100.0, wiring=Wiring(), position=100 / 648, pick=0.5 / 3.3, t60_s=1e3, snr_db=None,
        length_s=1.1, rng=np.random.default_rng(1),
    )  # fmt: skip
    pair = dataclasses.replace(
        pair, magnetic=_one_partial(pair.magnetic, n), piezo=_one_partial(pair.piezo, n)
    )
    bands = band_cross(pair)
    assert bands is not None
    over_sum = blend_map(bands, ratio=np.array([0.5])).interaction_db
    band = int(np.argmin(np.abs(np.log(BAND_HZ / (100.0 * n)))))
    sum_db = 10 * np.log10(1.0 + bands.magnetic[band] / bands.piezo[band])
    for polarity in (0, 1):
        rise = over_sum[polarity, 0, band] + sum_db
        assert rise == pytest.approx(rise_db, abs=0.02)


def _one_partial(samples: FloatArray, n: int) -> FloatArray:
    """Only what lies within 40 Hz of partial n of 100 Hz."""
    spectrum = np.fft.rfft(samples)
    hz = np.fft.rfftfreq(samples.size, 1 / RATE_HZ)
    return np.fft.irfft(np.where(np.abs(hz - 100.0 * n) < 40.0, spectrum, 0.0), samples.size)


def test_a_delayed_copy_thins_its_notch_bands_and_the_delay_is_named() -> None:
    delay_s = 24 / RATE_HZ  # 0.5 ms: notches at 1 and 3 kHz
    bands = band_cross(_noise_pair(24), delay_s=delay_s)
    assert bands is not None
    by_band = dict(zip(np.round(BAND_HZ), interaction_db(bands, 0.5, 1), strict=True))
    assert by_band[1000] < -10
    assert by_band[1995] > 2
    first = find_notches(bands, polarity=1, delay_s=delay_s)[0]
    assert first.frequency_hz == pytest.approx(1000.0)
    assert first.cause == "delay and polarity"
    assert first.delay_s == delay_s
    # The delay taken out, both are one signal.
    assert bands.cross_aligned[:20] == pytest.approx(bands.magnetic[:20], rel=0.06)


def test_an_inverted_copy_is_fuller_inverted() -> None:
    bands = band_cross(_noise_pair(0, polarity=-1))
    assert bands is not None
    advice = advise(bands, delay_s=0.0)
    assert advice.fuller_polarity == -1
    wired = find_notches(bands, polarity=1, delay_s=0.0)
    assert {notch.cause for notch in wired} == {"polarity"}


def test_equal_ratio_balances_the_outputs() -> None:
    # Piezo four times as strong: 0.8 of the magnetic against 0.2 of the piezo.
    assert equal_ratio(_bands(1.0, 16.0, 0.0)) == pytest.approx(0.2)


def test_power_of_bands_is_the_mean_square_of_the_noise() -> None:
    bands = band_cross(_noise_pair(0))
    assert bands is not None
    # White noise of RMS 0.1: density 0.01 / 24000 per Hz (closed form); noise of bandwidth B over
    # one second has a relative spread of 1/sqrt(B).
    width = HIGH_HZ - LOW_HZ
    off = np.abs(bands.magnetic / (0.01 / 24000 * width) - 1)
    assert np.all(off[5:] < 4 / np.sqrt(width[5:]))


def test_coherence_is_one_for_a_copy_and_small_for_strangers() -> None:
    pair = _noise_pair(3)
    bands = band_cross(pair)
    assert bands is not None
    assert total_coherence(bands) == pytest.approx(1.0, abs=0.01)
    other = np.random.default_rng(6).standard_normal(60000) * 0.1
    strange = band_cross(dataclasses.replace(pair, piezo=other))
    assert strange is not None
    # About one over the number of independent frames.
    value = total_coherence(strange)
    assert value is not None
    assert value < 0.15


def test_ends_of_the_map_are_the_outputs_themselves() -> None:
    bands = band_cross(_noise_pair(7, gain=0.5))
    assert bands is not None
    found = blend_map(bands)
    assert found.interaction_db[:, [0, -1]] == pytest.approx(0.0, abs=1e-12)
    assert found.ratio == pytest.approx(RATIOS)


def test_a_loud_note_does_not_rule_the_mean() -> None:
    # One note in phase, one in antiphase and 40 dB louder: of equal weight they cancel.
    soft, loud = _bands(1.0, 1.0, 1.0), _bands(1e4, 1e4, -1e4)
    equal = mean_cross([soft, loud], equal_weight=True)
    assert interaction_db(equal, 0.5, 1) == pytest.approx(0.0, abs=1e-9)
    assert np.all(interaction_db(mean_cross([soft, loud], equal_weight=False), 0.5, 1) < -30.0)


def test_a_short_pluck_has_no_bands() -> None:
    pair = _noise_pair(0)
    short = dataclasses.replace(pair, magnetic=pair.magnetic[:5000], piezo=pair.piezo[:5000])
    assert band_cross(short) is None
