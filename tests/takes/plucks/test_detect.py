"""Which rises are far too soft for a pluck, judged in the channels where they rose."""

from __future__ import annotations

import numpy as np

from tonecompare.takes.frames import LEAST_POWER, band_frames
from tonecompare.takes.plucks.detect import Rise, _loud_enough, band_floor, find_rises


def _rise(time_s: float, levels_db: tuple[float, float], rose: tuple[bool, bool]) -> Rise:
    return Rise(time_s, 6.0, max(levels_db), levels_db=levels_db, rose=rose)


PLUCK = _rise(0.0, (-10.0, -12.0), (True, True))


def test_a_touch_on_one_output_is_no_pluck_because_the_other_still_rings() -> None:
    assert _loud_enough([PLUCK, _rise(4.0, (-40.0, -60.0), (False, True))]) == [PLUCK]


def test_a_soft_pluck_on_one_output_stays() -> None:
    soft = _rise(4.0, (-60.0, -45.0), (True, True))
    assert _loud_enough([PLUCK, soft]) == [PLUCK, soft]


def test_digital_silence_behind_the_loudest_there_is_keeps_a_floor() -> None:
    # 1e9 times full scale: its sum swallows the least power of a band, and warnings are errors.
    samples = 1e9 * np.random.default_rng(1).standard_normal((1, 16_000))
    samples[0, 8_000:] = 0.0
    frames = band_frames(samples, rate_hz=8000.0)
    floor = band_floor(frames)
    assert (floor >= LEAST_POWER).all()
    find_rises(samples, rate_hz=8000.0, frames=frames, floor=floor)
