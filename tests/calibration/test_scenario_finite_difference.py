"""Finite-difference files are played as the others are: same hands, same places, same gain."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scenario_takes
from scenario_finite_difference import FdRender, fd_string
from scenario_takes import USUAL, guitar, measured_file

from tonecompare import strings as st
from tonecompare.measure.session import collected


def test_losses_are_the_strings_own_at_one_and_a_half_kilohertz():
    string = guitar().string(6)
    fd = fd_string(string, 648.0)
    b0, b1, b2 = string.damping
    # σ0 + σ1 (ω/c)² of the scheme against b0 + b1 f + b2 f² of the string.
    wavenumber = 2 * np.pi * 1500.0 / (2 * 0.648 * string.open_hz)
    found = fd.sigma0_per_s[0] + fd.sigma1_m2_per_s[0] * wavenumber**2
    assert found == pytest.approx(b0 + 1.5 * b1 + 2.25 * b2)


@pytest.mark.long
def test_a_file_is_as_loud_as_it_was_picked_and_gain_moves_it_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    # The last two strings are enough, and quicker; they are played from the start of the file.
    def two_strings(*args: object) -> tuple[st.PluckSpec, ...]:
        plucks = all_six(*args)
        return tuple(replace(p, time_s=p.time_s - 20 * 2.4) for p in plucks if p.string < 3)

    all_six = scenario_takes.played_plucks
    monkeypatch.setattr(scenario_takes, "played_plucks", two_strings)
    render = FdRender(tmp_path)
    usual = measured_file(render, USUAL, "neck", (1, 0), tmp_path)
    frame = collected([usual.as_stage["before"]]).plucks
    assert frame["note"].tolist() == ["B3"] * 5 + ["E4"] * 5
    level = frame["level_dbfs"].to_numpy().reshape(2, 5)
    force = np.reshape([pluck.strength_db for pluck in usual.played], (2, 5))
    # Louder by what it was picked harder; the rest is place, angle and decay.
    rest = (level - force) - (level - force).mean(axis=1, keepdims=True)
    alone = level - level.mean(axis=1, keepdims=True)
    assert np.std(rest) < 0.7 * np.std(alone)
    # The same motions through the interface at 3 dB less: notes, hum and hiss fall alike.
    quiet = measured_file(render, replace(USUAL, gain_db=-3.0), "neck", (1, 0), tmp_path)
    assert quiet.played == usual.played
    levels = collected([quiet.as_stage["after"]]).plucks["level_dbfs"].to_numpy()
    assert levels - frame["level_dbfs"].to_numpy() == pytest.approx(-3.0, abs=0.05)
    assert len(list(tmp_path.glob("*.npy"))) == 1
    assert len(list(tmp_path.glob("*.wav"))) == 2

    def no_more(*_: object) -> np.ndarray:
        raise AssertionError("a kept file is not rendered again")

    kept = measured_file(no_more, USUAL, "neck", (1, 0), tmp_path)
    again = collected([kept.as_stage["before"]]).plucks["level_dbfs"].to_numpy()
    assert np.array_equal(again, frame["level_dbfs"].to_numpy())
