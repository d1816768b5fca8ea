"""How hard passages were picked, by closed forms: tones whose pitch falls as their swing dies."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.arrays import FloatArray
from tonecompare.measure.played.event_glide import glide_of_events
from tonecompare.measure.played.passage_glides import FEWEST_CELLS, glide_readings
from tonecompare.measure.signal import PluckSignal

RATE_HZ = 44100.0
SIGMA_PER_S = 3.0


def _note(f0_hz: float, sharp_cents: float, length_s: float) -> FloatArray:
    """Partials of f(t) = f0 2^(c e^(-2 sigma t) / 1200), amplitudes e^(-sigma t) / n."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    small = np.log(2.0) / 1200.0 * sharp_cents
    # To first order in c the phase is 2 pi f0 (t + c' (1 - e^(-2 sigma t)) / (2 sigma)).
    turns = f0_hz * (
        time_s + small * (1.0 - np.exp(-2.0 * SIGMA_PER_S * time_s)) / (2.0 * SIGMA_PER_S)
    )
    tone = sum(np.sin(2.0 * np.pi * n * turns + n) / n for n in range(1, 9))
    return np.asarray(0.2 * np.exp(-SIGMA_PER_S * time_s) * tone)


def _falls(sharp_cents: float, length_s: float) -> float:
    """Cents between the middles of the two windows: 0.065 s and 0.055 s before the next note."""
    late_s = min(length_s - 0.055, 0.445)
    early, late = (np.exp(-2.0 * SIGMA_PER_S * t) for t in (0.065, late_s))
    return float(sharp_cents * (early - late))


def test_every_note_of_a_passage_falls_by_what_its_swing_loses() -> None:
    played = ((110.0, 8.0, 0.25), (147.0, 4.0, 0.375), (98.0, 2.0, 0.5), (196.0, 0.0, 0.6))
    sound = np.concatenate([_note(*each) for each in played])
    starts = tuple(np.cumsum([0.0, *(each[2] for each in played[:-1])]).tolist())
    signal = PluckSignal(sound, RATE_HZ, None, None)
    found = glide_of_events(signal, events_s=starts)[:, 0]
    known = [_falls(cents, length_s) for _, cents, length_s in played]
    assert found == pytest.approx(known, rel=0.1, abs=0.06)
    # No gain moves it, nor the highs of another pickup (a first-order shelf through 1 kHz).
    louder = PluckSignal(3.0 * sound + 2.0 * np.diff(sound, prepend=0.0), RATE_HZ, None, None)
    assert glide_of_events(louder, events_s=starts)[:, 0] == pytest.approx(found, abs=0.05)


def test_two_strings_together_fall_by_their_middle() -> None:
    sound = _note(110.0, 6.0, 0.5) + _note(164.8, 6.0, 0.5)
    ((found, _),) = glide_of_events(PluckSignal(sound, RATE_HZ, None, None), events_s=(0.0,))
    assert found == pytest.approx(_falls(6.0, 0.5), rel=0.15)


def test_a_note_too_short_tells_nothing() -> None:
    sound = _note(110.0, 8.0, 0.15)
    found = glide_of_events(PluckSignal(sound, RATE_HZ, None, None), events_s=(0.0,))
    assert np.isnan(found).all()


def _passages(ratios: list[float], *, cells: int = 20) -> list[FloatArray]:
    rng = np.random.default_rng(5)
    of_cell = rng.uniform(0.4, 3.0, cells)
    cents = [
        ratio * of_cell * 10.0 ** (rng.normal(0.0, 0.5, cells) / 10.0)
        + rng.normal(0.0, 0.1, cells)
        for ratio in ratios
    ]  # fmt: skip
    return [np.stack([one, np.full(cells, 0.1)], axis=1) for one in cents]


def test_readings_keep_the_ratio_of_the_passages_around_slips_and_gaps() -> None:
    ratios = [1.0, 1.26, 0.8, 1.0]
    played = _passages(ratios)
    played[1][3, 0], played[2][7, 0] = 12.0, -6.0  # slips
    played[0][[1, 5, 6]] = np.nan
    readings = glide_readings(played)
    found = readings[:, 0] / readings[:, 0].mean()
    assert found == pytest.approx(np.array(ratios) / np.mean(ratios), rel=0.08)
    assert (readings[:, 1] / readings[:, 0] < 0.1).all()


def test_events_that_are_hardly_known_count_for_little() -> None:
    ratios = [1.0, 1.26, 0.8, 1.0]
    played = _passages(ratios)
    for one in played:  # half of the cells are noise, and say so
        one[::2] += np.random.default_rng(7).normal(0.0, [1.5, 0.0], (10, 2))
    for one in played:
        one[::2, 1] = 1.5
    found = glide_readings(played)
    of = np.array(ratios) / np.mean(ratios)
    assert found[:, 0] / found[:, 0].mean() == pytest.approx(of, rel=0.08)
    assert (found[:, 1] > 0.0).all()


def _se(sound: FloatArray) -> float:
    signal = PluckSignal(sound, RATE_HZ, None, None)
    return float(glide_of_events(signal, events_s=(0.0,))[0, 1])


def test_partials_that_disagree_tell_little_and_a_single_low_one_nothing() -> None:
    # Two strings, one of which falls and one rises: no middle of them is anybody's.
    low = _note(110.0, 20.0, 0.5)
    assert _se(low + _note(164.8, -20.0, 0.5)) > 1.5 * _se(low + _note(164.8, 20.0, 0.5))
    assert np.isnan(_se(np.sin(2.0 * np.pi * 110.0 * np.arange(low.size) / RATE_HZ)))


@pytest.mark.parametrize("left", [0, FEWEST_CELLS - 1])
def test_a_passage_that_tells_nothing_leaves_the_others_as_they_are(left: int) -> None:
    played = _passages([1.0, 1.26, 0.8])
    alone = glide_readings(played)
    dumb = np.full(played[0].shape, np.nan)
    dumb[:left] = 1.0
    readings = glide_readings([dumb, *played])
    assert np.isfinite(alone).all()
    assert np.isnan(readings[0]).all()
    assert readings[1:] == pytest.approx(alone)


def test_what_does_not_glide_reads_nothing() -> None:
    rng = np.random.default_rng(6)
    still = np.stack([rng.normal(0.0, 0.05, (4, 20)), np.full((4, 20), 0.1)], axis=2)
    assert np.isnan(glide_readings(list(still))).all()
    assert np.isnan(glide_readings(_passages([1.0, 1.0], cells=FEWEST_CELLS - 1))).all()
