"""Signal to hum: the level in the middle over the hum, and how sure it is."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.quiet.signal_to_hum import Row, add_signal_to_hum


def _plucks(*levels: tuple[float, float]) -> list[Row]:
    return [
        {"channel": 1, "level_dbfs": level, "level_dbfs_se": sd} for level, sd in levels
    ]  # fmt: skip


def test_the_middle_level_over_the_hum_with_the_uncertainty_of_both() -> None:
    quiet: Row = {"channel": 1, "hum_dbfs": -60.0, "hum_dbfs_se": 0.4}
    add_signal_to_hum(_plucks((-10.0, 9.0), (-15.0, 0.3), (-30.0, 9.0)), [quiet])
    assert quiet["signal_to_hum_db"] == pytest.approx(45.0)
    assert quiet["signal_to_hum_db_se"] == pytest.approx(np.hypot(0.3, 0.4))


def test_of_an_even_number_the_two_in_the_middle() -> None:
    quiet: Row = {"channel": 1, "hum_dbfs": -60.0, "hum_dbfs_se": 0.0}
    add_signal_to_hum(_plucks((-10.0, 0.1), (-20.0, 0.3), (-9.0, 0.2), (-40.0, 0.1)), [quiet])
    assert quiet["signal_to_hum_db"] == pytest.approx(45.0)
    assert quiet["signal_to_hum_db_se"] == pytest.approx(0.2)


def test_without_hum_or_plucks_it_is_missing() -> None:
    for hum, plucks in ((None, _plucks((-10.0, 0.1))), (-60.0, [])):
        quiet: Row = {"channel": 1, "hum_dbfs": hum, "hum_dbfs_se": None}
        add_signal_to_hum(plucks, [quiet])
        assert quiet["signal_to_hum_db"] is None
        assert quiet["signal_to_hum_db_se"] is None
