"""A median of few values against NumPy's."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.arrays import median_of_few


@pytest.mark.parametrize("values", [[3.0], [4.0, 1.0], [5.0, 1.0, 2.0], [9.0, -1.0, 3.0, 4.0]])
def test_the_median_of_a_few_values(values: list[float]) -> None:
    assert median_of_few(values) == np.median(values)
