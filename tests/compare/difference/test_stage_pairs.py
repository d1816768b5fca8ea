"""Gathering plucks into cells and pairs."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from compare_frames import plucks, quiet

from tonecompare.compare.difference.stage_pairs import note_cells, pair_notes, quiet_cells
from tonecompare.quantities.compared import quantity_of

LEVEL = [quantity_of("level_dbfs")]
KEY = ("bridge", "magnetic")


def test_means_counts_and_gaps() -> None:
    frame = plucks("stock", {"level_dbfs": {"E2": [-20.0, -22.0, float("nan")], "A2": [-10.0]}})
    cells = note_cells(frame, "stock", LEVEL)[KEY]
    assert cells["E2"].mean == pytest.approx([-21.0])
    assert cells["E2"].variance == pytest.approx([2.0])
    assert cells["E2"].count == pytest.approx([2.0])
    assert np.isnan(cells["A2"].variance).all()


def test_plucks_without_a_note_are_left_out() -> None:
    frame = plucks("stock", {"level_dbfs": {"E2": [-20.0], "": [-3.0]}})
    frame.loc[len(frame)] = {"stage": "stock", "voice": "bridge", "output": "magnetic"}
    assert list(note_cells(frame, "stock", LEVEL)[KEY]) == ["E2"]


def test_only_shared_notes_are_paired_in_the_order_of_before() -> None:
    before = plucks("a", {"level_dbfs": {"E2": [1.0], "A2": [2.0], "D3": [3.0]}})
    after = plucks("b", {"level_dbfs": {"D3": [5.0], "A2": [5.0], "G3": [9.0]}})
    first, second = (
        note_cells(frame, name, LEVEL)[KEY] for frame, name in ((before, "a"), (after, "b"))
    )
    pair = pair_notes(KEY, first, second)
    assert pair.notes == ("A2", "D3")
    np.testing.assert_array_equal(pair.note_differences[:, 0], [3.0, 2.0])


def test_two_channels_with_one_output_are_one_pluck() -> None:
    left = plucks("stock", {"level_dbfs": {"E2": [-20.0, -22.0, -24.0]}})
    right = left.assign(channel=2, level_dbfs=left["level_dbfs"] + 1.0)
    cell = note_cells(pd.concat([left, right]), "stock", LEVEL)[KEY]["E2"]
    assert cell.count == pytest.approx([3.0])
    assert cell.mean == pytest.approx([-21.5])


def test_outputs_are_kept_apart() -> None:
    magnetic = plucks("stock", {"level_dbfs": {"E2": [-20.0]}})
    piezo = plucks("stock", {"level_dbfs": {"E2": [-30.0]}}, output="piezo").assign(channel=2)
    cells = note_cells(pd.concat([magnetic, piezo]), "stock", LEVEL)
    assert set(cells) == {("bridge", "magnetic"), ("bridge", "piezo")}


def test_a_column_that_is_absent_is_unmeasured() -> None:
    cells = note_cells(plucks("stock", {"peak_dbfs": {"E2": [-3.0]}}), "stock", LEVEL)
    assert np.isnan(cells[KEY]["E2"].mean).all()


def test_words_in_a_number_column_are_unmeasured() -> None:
    frame = plucks("stock", {"level_dbfs": {"E2": [-20.0, -21.0]}})
    frame["level_dbfs"] = ["", -21.0]
    assert note_cells(frame, "stock", LEVEL)[KEY]["E2"].count == pytest.approx([1.0])


def test_uncertainty_of_a_ratio_is_relative() -> None:
    frame = quiet("stock", {"hum_dbfs": [-70.0], "hum_dbfs_se": [0.2]})
    cell = quiet_cells(frame, "stock", [quantity_of("hum_dbfs")])[KEY]
    assert cell.own_se == pytest.approx([0.2])
    frame = plucks("stock", {"decay_s": {"E2": [5.0]}, "decay_s_se": {"E2": [0.1]}})
    cell = note_cells(frame, "stock", [quantity_of("decay_s")])[KEY]["E2"]
    assert cell.own_se == pytest.approx([0.02])
