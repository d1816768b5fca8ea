"""Signal to hum: the level in the middle over the hum, and how sure it is."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.measured import Measured
from tonecompare.measure.quiet.signal_to_hum import with_signal_to_hum
from tonecompare.measure.table import MeasuredSubject, Subject


def _plucks(*levels: tuple[float, float]) -> list[MeasuredSubject]:
    subject = Subject("plucks", "s", "v", channel=1)
    numbers = [{"level_dbfs": Measured(level, "dBFS", sd)} for level, sd in levels]
    return [MeasuredSubject(subject, each) for each in numbers]


def _over_hum(
    plucks: list[MeasuredSubject], hum: float | None, sd: float | None
) -> MeasuredSubject:
    subject = Subject("quiet", "s", "v", channel=1)
    quiet = MeasuredSubject(subject, {"hum_dbfs": Measured(hum, "dBFS", sd)})
    (found,) = with_signal_to_hum(plucks, [quiet])
    assert "signal_to_hum_db" not in quiet.quantities
    return found


def test_the_middle_level_over_the_hum_with_the_uncertainty_of_both() -> None:
    quiet = _over_hum(_plucks((-10.0, 9.0), (-15.0, 0.3), (-30.0, 9.0)), -60.0, 0.4)
    assert quiet.value("signal_to_hum_db") == pytest.approx(45.0)
    assert quiet.uncertainty("signal_to_hum_db") == pytest.approx(np.hypot(0.3, 0.4))


def test_of_an_even_number_the_two_in_the_middle() -> None:
    plucks = _plucks((-10.0, 0.1), (-20.0, 0.3), (-9.0, 0.2), (-40.0, 0.1))
    quiet = _over_hum(plucks, -60.0, 0.0)
    assert quiet.value("signal_to_hum_db") == pytest.approx(45.0)
    assert quiet.uncertainty("signal_to_hum_db") == pytest.approx(0.2)


def test_without_hum_or_plucks_it_is_missing() -> None:
    for hum, plucks in ((None, _plucks((-10.0, 0.1))), (-60.0, [])):
        quiet = _over_hum(plucks, hum, None)
        assert quiet.value("signal_to_hum_db") is None
        assert quiet.uncertainty("signal_to_hum_db") is None
