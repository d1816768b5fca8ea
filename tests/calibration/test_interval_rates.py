"""Sessions share nothing, truths are what physics says, and shares are counted right."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from interval_rates import Held, held_of, null_claims, table
from interval_sessions import KINDS, PHYSICS, RATE_HZ, Drawn, drawn, measured, plucks_of
from interval_truth import ExactPlucks, levels_of, truth_of

_ONE = Drawn((7, 0), "modes", "nothing", "neck", True, (5, 3), 4)


def test_levels_of_two_sines_are_those_of_their_amplitudes():
    t = np.arange(round(1.2 * RATE_HZ)) / RATE_HZ
    # On bins of the transform, so that both stand as high as they are strong.
    low_hz, high_hz = 46 * RATE_HZ / 8192, 743 * RATE_HZ / 8192
    x = 0.5 * np.sin(2 * np.pi * low_hz * t) + 0.1 * np.sin(2 * np.pi * high_hz * t)
    found = levels_of(x)
    assert found["level_dbfs"] == pytest.approx(10 * math.log10(0.125 + 0.005), abs=0.01)
    assert found["band_0250_db"] - found["band_4000_db"] == pytest.approx(20 * math.log10(5))
    assert found["shape_0250_db"] == pytest.approx(10 * math.log10(0.125 / 0.13), abs=0.01)
    mean_hz = (0.5 * low_hz + 0.1 * high_hz) / 0.6
    assert math.exp(found["centroid_hz"]) == pytest.approx(mean_hz, rel=0.01)


@pytest.mark.parametrize("physics", PHYSICS)
def test_no_pluck_is_in_two_sessions_or_stages(physics: str):
    sessions = [drawn(physics, 3, index) for index in range(9)]
    plucks = [p for one in sessions for stage in ("before", "after") for p in plucks_of(one, stage)]
    assert len({(p.position_mm, p.strength_db) for p in plucks}) == len(plucks)
    assert {one.kind for one in (drawn(physics, 3, i) for i in range(60))} == set(KINDS)


def test_a_coil_6_db_hotter_moves_level_and_bands_and_no_shape():
    session = replace(_ONE, kind="louder", louder_db=6.0, hum_db=-2.0)
    truth = truth_of(session, ExactPlucks("modes", Path()))
    assert truth["level_dbfs", 0] == truth["band_2000_db", 0] == 6.0
    assert truth["shape_2000_db", 0] == truth["decay_s", 0] == truth["hiss_dbfs", 0] == 0.0
    assert truth["hum_dbfs", 0] == -2.0
    assert truth["signal_to_hum_db", 0] == 8.0
    coils = [of.pickups["neck"].coils[0].sensitivity for of in session.conditions.values()]
    assert coils[1] / coils[0] == pytest.approx(10 ** (6.0 / 20))


def test_half_the_inductance_moves_the_resonance_by_root_two_and_leaves_the_bass():
    session = replace(_ONE, kind="resonance", resonance=math.sqrt(2.0))
    circuits = [of.pickups["neck"].circuit for of in session.conditions.values()]
    assert circuits[1].inductance_h == pytest.approx(circuits[0].inductance_h / 2.0)
    truth = truth_of(session, ExactPlucks("modes", Path()))
    assert truth["resonance_hz", 0] == pytest.approx(0.5 * math.log(2.0))
    for string in session.strings:
        assert truth["band_0250_db", string] == pytest.approx(0.0, abs=0.1)
        assert truth["band_8000_db", string] > 2.0
    assert ("decay_s", 0) not in truth


def test_a_share_is_counted_over_sessions_and_bands_of_one_hang_together():
    def row(session: int, quantity: str, truth: float, *, claims: bool = False) -> Held:
        one = replace(_ONE, number=(7, session))
        return Held(one, quantity, truth, 0.0, -1.0, 1.0, 0.5, claims)

    rows = [row(i, "level_dbfs", 2.0 if i == 0 else 0.7, claims=i == 3) for i in range(20)]
    # All eight bands of the first session outside, one of the second.
    outside = {(0, band) for band in range(8)} | {(1, 5)}
    rows += [
        row(i, f"band_{b}_db", 2.0 if (i, b) in outside else 0.0)
        for i in range(20)
        for b in range(8)
    ]
    lines = table(rows).splitlines()
    level, together, at_once = (
        next(line for line in lines if f" {name} " in line)
        for name in ("level_dbfs", "bands together", "bands at once")
    )
    # 1 of 20 outside: binomial 4.9 %; the test's half interval holds none.
    assert "95.0 ± 4.9 %" in level
    assert level.split("± 4.9 %")[1].split()[0] == "0.0"
    # 9 of 160 rows, hardly better known than 2 of 20 sessions, which is what holds at once.
    assert "94.4 ± 4.9 %" in together
    assert " 20 " in at_once
    assert "90.0 ± 6.7 %" in at_once
    assert null_claims(rows).startswith("nothing done: 1 of 20 sessions claim something level")


@pytest.mark.long
def test_a_session_goes_from_rendering_to_its_rows(tmp_path: Path):
    found = measured("modes", 5, range(1), tmp_path)
    rows = held_of(drawn("modes", 5, 0), found[0], ExactPlucks("modes", tmp_path))
    assert {"level_dbfs", "hum_dbfs", "band_1000_db", "centroid_hz"} <= {r.quantity for r in rows}
    kept = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    measured("modes", 5, range(1), tmp_path)
    assert {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()} == kept
