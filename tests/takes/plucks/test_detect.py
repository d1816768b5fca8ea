"""Which rises are far too soft for a pluck, judged in the channels where they rose."""

from __future__ import annotations

from tonecompare.takes.plucks.detect import Rise, _loud_enough


def _rise(time_s: float, levels_db: tuple[float, float], rose: tuple[bool, bool]) -> Rise:
    return Rise(time_s, 6.0, max(levels_db), levels_db=levels_db, rose=rose)


PLUCK = _rise(0.0, (-10.0, -12.0), (True, True))


def test_a_touch_on_one_output_is_no_pluck_because_the_other_still_rings() -> None:
    assert _loud_enough([PLUCK, _rise(4.0, (-40.0, -60.0), (False, True))]) == [PLUCK]


def test_a_soft_pluck_on_one_output_stays() -> None:
    soft = _rise(4.0, (-60.0, -45.0), (True, True))
    assert _loud_enough([PLUCK, soft]) == [PLUCK, soft]
