"""Lines put together again keep their events, in order, four times with pauses."""

from __future__ import annotations

import numpy as np
from line_rates import Line, played
from scenario_takes import RATE_HZ


def test_a_line_is_played_four_times_by_a_hand() -> None:
    event = np.full(round(0.4 * RATE_HZ), 0.1)
    sound = played(Line("made", (event, 2.0 * event, 4.0 * event)), np.random.default_rng(1))
    loud = np.abs(sound) > 0.0
    begins = np.flatnonzero(np.diff(loud.astype(int)) == 1) / RATE_HZ
    parts = np.split(begins, np.flatnonzero(np.diff(begins) > 1.2) + 1)
    assert len(parts) == 4
    # 0 to 2 of three events a time, each within what a hand does of its loudness.
    first = np.abs(sound[round(begins[0] * RATE_HZ) + 100])
    assert 0.06 < first < 0.16
    length_s = loud.sum() / RATE_HZ
    assert 4 * 3 * 0.4 * 0.8 < length_s < 4 * 3 * 0.4 * 1.2
