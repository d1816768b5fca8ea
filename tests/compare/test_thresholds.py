"""Hearing thresholds: published values, overrides."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.thresholds import (
    SURE,
    THRESHOLDS,
    band_on_scale,
    check_overrides,
    threshold_of,
)
from tonecompare.errors import SessionError
from tonecompare.quantities.compared import QUANTITIES, quantity_of


def test_decay_goes_by_plucked_strings_not_rooms() -> None:
    # Tolonen & Järveläinen (2000): 0.75 to 1.40 of the decay time goes unheard.
    decay = quantity_of("decay_s")
    threshold = threshold_of(decay)
    assert threshold is not None
    low, high = band_on_scale(decay, threshold)
    assert np.exp([low, high]) == pytest.approx([0.75, 1.40])


@pytest.mark.parametrize(
    ("column", "below", "unit"),
    [
        ("level_dbfs", 1.0, "dB"),  # rule of thumb, ISO 3382-1 G
        ("centroid_hz", 5.0, "%"),  # beyond half of what was tried
        ("cents", 5.0, "cents"),  # pure tones 3.5, more for short or soft ones
        ("hiss_dbfs", 0.41, "dB"),  # Miller (1947), wide-band noise
        ("attack_ms", 25.0, "%"),  # van Heuven & van den Broecke 1979 (from memory)
    ],
)
def test_published_values(column: str, below: float, unit: str) -> None:
    threshold = threshold_of(quantity_of(column))
    assert threshold is not None
    assert (threshold.below, threshold.unit) == (below, unit)


def test_level_lies_in_the_band_of_pure_tones() -> None:
    # Jesteadt, Wier & Green (1977): dI/I = 0.463 (I/I0)^-0.072, in dB at 20 ... 80 dB above
    # threshold 1.25, 0.93, 0.69, 0.50.
    sensation_db = np.array([20.0, 40.0, 60.0, 80.0])
    jnd_db = 10.0 * np.log10(1.0 + 0.463 * 10.0 ** (-0.072 * sensation_db / 10.0))
    assert jnd_db == pytest.approx([1.25, 0.93, 0.69, 0.50], abs=0.01)
    assert jnd_db.min() < THRESHOLDS["level"].above < jnd_db.max()


def test_every_threshold_has_a_source_and_says_how_sure() -> None:
    for threshold in THRESHOLDS.values():
        assert len(threshold.source) > 20
        assert threshold.sure in SURE


def test_quantities_without_published_threshold_have_none() -> None:
    for column in ("tilt_db_per_octave", "odd_even_db", "inharmonicity", "pluck_point"):
        assert threshold_of(quantity_of(column)) is None


def test_overrides_by_column_win_over_names() -> None:
    level = threshold_of(quantity_of("level_dbfs"), overrides={"level": 2.0, "level_dbfs": 0.5})
    assert level is not None
    assert (level.below, level.above, level.source) == (0.5, 0.5, "session.toml")
    hum = threshold_of(quantity_of("hum_dbfs"), overrides={"hum": 3.0})
    assert hum is not None
    assert hum.above == 3.0
    tilt = threshold_of(quantity_of("tilt_db_per_octave"), overrides={"tilt_db_per_octave": 1.0})
    assert tilt is not None
    assert tilt.unit == "dB/octave"


def test_override_with_an_unknown_name() -> None:
    with pytest.raises(SessionError, match=r"hearing_thresholds\.loudness: there is no .* level"):
        check_overrides({"loudness": 1.0})


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan")])
def test_override_without_magnitude(value: float) -> None:
    with pytest.raises(SessionError, match="above 0"):
        check_overrides({"level": value})


def test_a_fall_of_all_of_it_leaves_the_band_open() -> None:
    decay = quantity_of("decay_s")
    threshold = threshold_of(decay, overrides={"decay": 120.0})
    assert threshold is not None
    assert band_on_scale(decay, threshold)[0] == -np.inf


def test_high_partials_are_never_called_likely_audible() -> None:
    for quantity in QUANTITIES:
        if quantity.family == "partials" and quantity.column > "h08_db":
            threshold = threshold_of(quantity)
            assert threshold is not None
            assert threshold.likely_at == float("inf")


def test_what_is_known_from_memory_calls_nothing_likely_audible() -> None:
    for threshold in THRESHOLDS.values():
        assert threshold.sure in SURE
        assert (threshold.sure != "from memory") or threshold.likely_at == float("inf")


def test_the_owners_own_value_counts_twice_over() -> None:
    quantity = quantity_of("h03_db")
    known, own = threshold_of(quantity), threshold_of(quantity, overrides={"partial": 1.5})
    assert known is not None
    assert own is not None
    assert (known.likely_at, own.likely_at, own.above) == (float("inf"), 2.0, 1.5)
