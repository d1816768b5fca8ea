"""Spectra of quiets made bin by bin: what stands out, what is averaged, what is not known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.curves.quiet_spectrum import (
    STANDS_OUT_DB,
    bandwidth_hz,
    highest_bins,
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


def test_a_narrow_line_keeps_its_level_and_stretches_are_averaged_in_db():
    grid_hz = 50.0 * 2.0 ** (np.arange(7) / 3.0)
    level = highest_bins([_quiet({100: -60.0}), _quiet({100: -70.0})], grid_hz, per_octave=3)
    # 100 Hz lies on the grid, three steps above 50 Hz; its step reaches from 89 to 112 Hz.
    assert level[3] == pytest.approx(-65.0)
    assert level[[0, 1, 2, 4, 5, 6]] == pytest.approx(np.full(6, -100.0))
    assert np.isnan(highest_bins([], grid_hz, per_octave=3)).all()


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
