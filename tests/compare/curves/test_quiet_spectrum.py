"""Spectra of quiets made bin by bin: what stands out, what is averaged, what is not known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.curves.quiet_spectrum import (
    STANDS_OUT_DB,
    bandwidth_hz,
    mains_peaks,
    middle,
)
from tonecompare.measure.model import QuietCurves

BIN_HZ = np.arange(0.0, 400.0, 1.0)


def _quiet(lines: dict[int, float], *, floor_dbfs: float = -100.0, width_hz: float = 1.5):
    level = np.full(BIN_HZ.size, floor_dbfs)
    for hz, dbfs in lines.items():
        level[hz] = dbfs
    return QuietCurves(frequency_hz=BIN_HZ, level_dbfs=level, bandwidth_hz=width_hz)


def test_a_line_that_stands_out_of_every_stretch_is_marked():
    just, below = -100.0 + STANDS_OUT_DB + 0.5, -100.0 + STANDS_OUT_DB - 0.5
    one = _quiet({50: -60.0, 100: just, 150: below, 200: -50.0})
    other = _quiet({50: -64.0, 100: just, 150: below})
    peaks = mains_peaks([one, other], np.array([50.0, 100.0, 150.0, 200.0, 900.0]))
    assert peaks[:2] == pytest.approx([-62.0, just])
    assert np.isnan(peaks[2:]).all()


def test_bins_of_one_width_are_named_by_it():
    assert bandwidth_hz([_quiet({}, width_hz=w) for w in (1.0, 1.1, 1.15)]) == pytest.approx(1.1)
    assert bandwidth_hz([_quiet({}, width_hz=w) for w in (1.0, 1.3)]) is None


def test_the_middle_of_what_was_measured():
    assert middle(pd.Series([50.02, None, 49.98, 60.0])) == 50.02
    assert middle(pd.Series([None, None])) is None
