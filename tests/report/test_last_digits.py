"""Where another processor changes the last digits of what is measured, no table shows it."""

from __future__ import annotations

import last_digits
import numpy as np
import pandas as pd
import pytest
from small_takes import stage

from tonecompare.measure import measure_session
from tonecompare.session import load_session


@pytest.mark.long
def test_numbers_moved_in_their_last_digits_give_the_same_tables(tmp_path):
    voices = {"neck": {"repeats": 3}, "bridge": {"repeats": 3, "slope": 0.7}}
    for seed, name in enumerate(("before", "after")):
        stage(tmp_path / name, voices, seed=10 * seed)
    session = load_session(tmp_path)
    measurements = measure_session(session)
    before = last_digits.tables(session, measurements)
    for seed in range(3):
        again = last_digits.moved(measurements, np.random.default_rng(seed))
        changed, numbers, largest = last_digits.changed_cells(
            before, last_digits.tables(session, again)
        )
        assert numbers > 3000
        assert sum(changed.values()) <= 2  # a number may lie on the edge of rounding
        assert largest < 1.5


def test_what_moves_is_moved_and_counted():
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({"a": [1.0, np.nan], "b": ["x", "y"], "n": [1, 2]})
    moved = last_digits.moved({"t": (frame, 2.0, np.ones(3), "x", None)}, rng, 1e-3)["t"]
    assert 0.0 < abs(moved[0]["a"][0] - 1.0) < 1e-2
    assert moved[0]["b"].tolist() == ["x", "y"]
    assert 0.0 < abs(moved[1] - 2.0) < 1e-2
    assert (moved[2] != 1.0).all()
    assert moved[3:] == ("x", None)
    one = {"t": [["a", "b"], ["1.234567", "x"]]}
    other = {"t": [["a", "b"], ["1.234569", "x"]]}
    changed, numbers, largest = last_digits.changed_cells(one, other)
    assert (dict(changed), numbers) == ({("t", "a"): 1}, 1)
    assert largest == pytest.approx(2.0, abs=1e-3)
    one, other = ({"t": [["ci_low", "b"], [text, "x"]]} for text in ("-0.263391", "-0.26339"))
    _, _, largest = last_digits.changed_cells(one, other)
    assert largest == pytest.approx(1.0, abs=1e-3)  # a difference ends at the sixth decimal
