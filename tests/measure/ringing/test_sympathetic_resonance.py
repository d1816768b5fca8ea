"""Open strings beside a note: sums of partials of known level (closed form)."""

from __future__ import annotations

import numpy as np
import pytest
from pluck_truth import RATE_HZ, partials, series, signal

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.ringing.narrow_lines import four_terms, ring_frame
from tonecompare.measure.ringing.sympathetic_resonance import Along, open_strings_of, strings_along

STRINGS = open_strings_of(("E2", "A2", "D3", "G3", "B3", "E4"), a4_hz=440.0)
B3_HZ = 246.94


def along(x: FloatArray, *, snr_db: float = 60.0, before: FloatArray | None = None,
          own: int | None = 2, f0_hz: float = B3_HZ) -> tuple[Along, ...]:  # fmt: skip
    pluck = signal(x, f0_hz, snr_db=snr_db)
    frame = ring_frame(pluck, before)
    assert frame is not None
    return strings_along(frame, measure_partials(pluck), STRINGS, own=own, noise=pluck.noise)


def other(f1_hz: float, level: float, orders: tuple[int, ...] = (1, 2, 3)) -> FloatArray:
    """Return steady partials of an open string of equal amplitude ``level``."""
    order = np.array(orders)
    hz = order * f1_hz * np.sqrt((1 + 6e-5 * order**2) / (1 + 6e-5))
    return partials(hz, np.full(order.size, level), 1e6, seed=8)


@pytest.mark.parametrize("level_db", [-20.0, -40.0, -60.0])
def test_string_is_named_and_its_level_is_that_of_its_partials(level_db: float) -> None:
    """Steady note and steady string: levels are sums of amplitude squares, exactly."""
    note = series(B3_HZ, n=6, t60_s=1e6)
    note_power = 0.5 * np.sum((0.1 / np.arange(1, 7)) ** 2)
    size = np.sqrt(2.0 * note_power * 10.0 ** (level_db / 10.0) / 3.0)
    (found,) = along(note + other(146.83, size))
    assert found.string == 4
    assert found.orders == (1, 2, 3)
    # The string adds to the note it is held against: 0.04 dB at -20 dB.
    assert found.level_db == pytest.approx(level_db, abs=0.06 + 3.0 * found.level_sd_db)


def test_damped_strings_give_no_name() -> None:
    for seed in range(5):
        assert along(series(B3_HZ, n=12, stretch=1e-4, seed=seed), snr_db=45.0) == ()


def test_a_string_a_few_cents_off_is_named_one_half_a_semitone_off_is_not() -> None:
    note = series(B3_HZ, n=6)
    assert [each.string for each in along(note + other(146.83 * 2 ** (15 / 1200), 1e-3))] == [4]
    assert along(note + other(146.83 * 2 ** (50 / 1200), 1e-3)) == ()


def test_a_single_line_names_nothing() -> None:
    assert along(series(B3_HZ, n=6) + other(146.83, 1e-3, (1,))) == ()


def test_a_fretted_octave_is_not_the_open_string() -> None:
    assert along(series(B3_HZ, n=6) + other(146.83, 1e-3, (2, 4, 6))) == ()


def test_as_loud_as_the_note_it_was_played() -> None:
    assert along(series(B3_HZ, n=6) + other(146.83, 0.06)) == ()


def test_what_rang_before_the_onset_is_told_apart() -> None:
    note, string = series(B3_HZ, n=6), other(146.83, 1e-3)
    quiet = np.random.default_rng(4).normal(0.0, 1e-5, round(0.4 * RATE_HZ))
    assert along(note + string)[0].before is None
    assert along(note + string, before=quiet)[0].before is False
    assert along(note + string, before=quiet + string[: quiet.size])[0].before is True


def test_partials_that_fall_on_the_note_are_not_counted() -> None:
    """E4 (329.63 Hz) has all its partials on every third of A2 (110 Hz)."""
    found = along(series(110.0, n=12) + other(329.63, 3e-3), own=5, f0_hz=110.0)
    assert [each.string for each in found] == []


def test_window_is_the_published_one() -> None:
    """Harris 1978, table 1: coherent gain 0.36, equivalent noise bandwidth 2.00 bins."""
    window = four_terms(4096)
    assert window.mean() == pytest.approx(0.36, abs=0.005)
    assert 4096 * np.sum(window**2) / window.sum() ** 2 == pytest.approx(2.00, abs=0.01)
