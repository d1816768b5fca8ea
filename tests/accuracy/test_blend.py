"""Delay and polarity on takes of the physical model: what the project promises for 50 dB.

The model (tonecompare.strings) has two polarisations, stiffness, a coil with its aperture and load,
a piezo with high- and low-pass and human plucks; delay, polarity and ratio are what it was given.
Delays are laid on afterwards in the frequency domain (exact), so that one rendering serves many.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from two_output_takes import DelayError, delay_errors

from tonecompare import strings
from tonecompare.measure.outputs.measure_outputs import measure_delay
from tonecompare.measure.outputs.results import BlendPair

RATE_HZ = 44100.0


def _take(seed: int, coil: strings.Magnetic) -> list[BlendPair]:
    """Six open strings on magnetic and piezo, without noise."""
    rng = np.random.default_rng(seed)
    piezo = strings.Piezo()
    voice = strings.VoiceSpec(
        "both",
        (
            strings.Channel("magnetic", coil),
            strings.Channel("piezo", None, piezo, ratio=1.0),
        ),
    )
    plucks = strings.plucks_in_turn(
        [(string, 0) for string in (6, 5, 4, 3, 2, 1)], start_s=0.2, spacing_s=0.7,
        damp_before_s=0.1, like=strings.PluckSpec(0.0, 1, position_mm=120.0),
    )  # fmt: skip
    plucks = strings.vary_plucks(plucks, rng=rng)
    made = strings.render_recording(
        strings.standard_instrument(), voice, plucks, rng=rng, rate_hz=RATE_HZ, subtype="FLOAT"
    )
    pairs = []
    for pluck in made.truth.plucks:
        onset = round(min(output.motion_s for output in pluck.outputs) * RATE_HZ)
        cut = slice(onset - 880, onset + round(0.5 * RATE_HZ))
        magnetic, piezo_samples = made.samples[:, cut]
        pairs.append(
            BlendPair(pluck.note, pluck.string, pluck.f0_hz, magnetic, piezo_samples, 880, RATE_HZ)
        )
    return pairs


@pytest.fixture(scope="module")
def takes() -> list[list[BlendPair]]:
    coils = (strings.single_coil(150.0), strings.humbucker(45.0), strings.single_coil(60.0))
    return [_take(seed, coil) for seed, coil in enumerate(coils)]


def _wired(
    pair: BlendPair, *, delay_s: float, polarity: int, snr_db: float, rng: np.random.Generator
) -> BlendPair:
    size = 2 * pair.piezo.size
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    late = np.fft.rfft(pair.piezo, size) * np.exp(-2j * np.pi * hz * delay_s) * polarity
    piezo = np.fft.irfft(late, size)[: pair.piezo.size]

    def noisy(samples: np.ndarray) -> np.ndarray:
        rms = float(np.sqrt(np.mean(samples[880 + 2205 :] ** 2)))
        return samples + rms * 10 ** (-snr_db / 20) * rng.standard_normal(samples.size)

    return dataclasses.replace(pair, magnetic=noisy(pair.magnetic), piezo=noisy(piezo))


@pytest.fixture(scope="module")
def errors() -> list[DelayError]:
    """Twelve takes: three kinds of pickup, three rates, 16 and 24 bit, the rest at random."""
    return delay_errors(12, seed=2024)


def test_delay_within_five_microseconds(errors: list[DelayError]) -> None:
    off_us = np.array([each.error_us for each in errors])
    assert np.all(np.isfinite(off_us))
    # Of 150 drawn takes one is beyond (tests/accuracy/blend_grid.py): a humbucker whose highs do
    # not tell the preamp's lag from delay, and which says so. None of these.
    assert np.max(np.abs(off_us)) <= 5.0, off_us
    assert np.sqrt(np.mean(off_us**2)) < 2.0


def test_polarity_is_always_right(errors: list[DelayError]) -> None:
    assert [each.fit.polarity for each in errors] == [each.take.polarity for each in errors]


def test_stated_uncertainty_of_the_delay_holds(errors: list[DelayError]) -> None:
    over = np.abs([each.error_us / each.stated_us for each in errors])
    # Of 12 draws fewer than 5 within one, or more than 2 beyond two, come in 1 of 50 runs each.
    assert np.sum(over <= 1.0) >= 5
    assert np.sum(over > 1.96) <= 2
    # And it is not bought by saying nothing: half of the takes are known to 2 µs.
    assert np.median([each.stated_us for each in errors]) < 2.0


def test_one_string_alone_stays_honest() -> None:
    for string in (6, 3, 1):
        for each in delay_errors(2, seed=55 + string, strung=(string,)):
            assert each.fit.polarity in (each.take.polarity, None)
            if np.isfinite(each.error_us):
                assert abs(each.error_us) < max(10.0, 3.0 * each.stated_us)


@pytest.mark.parametrize("count", [1, 2])
def test_few_strings_in_noise_are_right_or_not_determinable(
    takes: list[list[BlendPair]], count: int
) -> None:
    rng = np.random.default_rng(11)
    wrong = told = 0
    for take in takes:
        for first in range(0, 6, 2):
            polarity = int(rng.choice([-1, 1]))
            delay_s = float(rng.uniform(0.0, 2e-3))
            pairs = [
                _wired(pair, delay_s=delay_s, polarity=polarity, snr_db=30.0, rng=rng)
                for pair in take[first : first + count]
            ]
            fit = measure_delay(pairs)
            told += fit.polarity is not None
            wrong += fit.polarity == -polarity
            if fit.delay_s is not None and fit.delay_se_s is not None:
                assert abs(fit.delay_s - delay_s) < max(4 * fit.delay_se_s, 15e-6)
    assert wrong == 0
    assert told >= 6
