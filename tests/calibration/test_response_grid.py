"""The response against noise-free truth; ``response_grid.py`` prints the whole table."""

from __future__ import annotations

import numpy as np
import pytest
from response_grid import cases, judged, response_of, stages, truth_db


@pytest.mark.long
def test_a_lower_resonance_is_found_as_it_is() -> None:
    before, after = cases()["bridge, resonance -25 %"]
    truth = truth_db(before, after)
    # Second-order low-pass moved from 3.4 to 2.55 kHz: -40 lg(4/3) = -5.0 dB far above both.
    assert np.nanmin(truth) < -4.0
    response = response_of(stages(before, after, [11]))
    assert response is not None
    found = judged(response, truth)
    assert found.curve_db < 1.5  # its band is about ±1 dB wide, the hand's strength in it
    assert found.equaliser_db < 1.5
    assert found.covered > 0.8
