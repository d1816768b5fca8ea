"""The table of compared quantities."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.thresholds import THRESHOLDS
from tonecompare.quantities.columns import MEASUREMENTS, QUIET, VOICES
from tonecompare.quantities.compared import FAMILIES, QUANTITIES, quantity_of


def test_every_quantity_is_a_column_of_its_table() -> None:
    for quantity in QUANTITIES:
        table = QUIET if quantity.quiet else VOICES if quantity.voice else MEASUREMENTS
        assert quantity.column in table
        assert quantity.family in FAMILIES
        assert quantity.threshold == "" or quantity.threshold in THRESHOLDS
        assert quantity.label
        assert quantity.units


def test_no_quantity_twice() -> None:
    columns = [quantity.column for quantity in QUANTITIES]
    assert len(set(columns)) == len(columns)


def test_ratios_are_as_far_down_as_up() -> None:
    decay = quantity_of("decay_s")
    half, double = (decay.to_scale(x * 3.0) - decay.to_scale(3.0) for x in (0.5, 2.0))
    assert float(half) == pytest.approx(-float(double))
    assert float(decay.from_scale(half)) == pytest.approx(-50.0)
    assert float(decay.from_scale(double)) == pytest.approx(100.0)


def test_an_octave_of_centroid_is_1200_cents_and_100_percent() -> None:
    centroid = quantity_of("centroid_hz")
    octave = centroid.to_scale(2000.0) - centroid.to_scale(1000.0)
    assert float(centroid.from_scale(octave, unit="cents")) == pytest.approx(1200.0)
    assert float(centroid.from_scale(octave, unit="%")) == pytest.approx(100.0)
    assert float(centroid.value(centroid.to_scale(1234.5))) == pytest.approx(1234.5)


def test_the_ratio_of_something_not_positive_is_no_number() -> None:
    assert np.isnan(quantity_of("decay_s").to_scale([0.0, -1.0, np.nan])).all()


def test_levels_stand_as_they_are() -> None:
    level = quantity_of("level_dbfs")
    assert float(level.from_scale(level.to_scale(-20.0) - level.to_scale(-23.0))) == 3.0


def test_an_unknown_column_is_named() -> None:
    with pytest.raises(KeyError, match="loudness"):
        quantity_of("loudness")
