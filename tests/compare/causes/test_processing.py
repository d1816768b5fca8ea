"""Strings that ring shorter or longer are not mistaken for a compressor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from simulated_picks import Picks, Playing, simulated_picks

from tonecompare.compare.causes.processing import dying_db, find_processing
from tonecompare.compare.difference.session_differences import judge_session


@pytest.mark.parametrize("t60_s", [0.5, 2.0, 4.0, 30.0])
def test_level_of_a_dying_note_is_the_integral_of_its_power(t60_s: float) -> None:
    # Numerical integral of 10^(-6 t/T60) over 0.05-0.55 s (scipy.integrate.quad).
    mean = quad(lambda t: 10.0 ** (-6.0 * t / t60_s), 0.05, 0.55)[0] / 0.5
    assert dying_db(np.array([t60_s]))[0] == pytest.approx(-10.0 * np.log10(mean), abs=1e-9)


@pytest.mark.parametrize(("squeeze_db", "found"), [(0.0, False), (2.0, True)])
def test_only_what_goes_beyond_the_decay_is_a_compressor(squeeze_db: float, found: bool) -> None:
    """Decays a third shorter: the peaks rise against the level as the decay alone has it."""
    rng = np.random.default_rng(5)
    before, after = Playing(decay_factor=0.4), Playing(decay_factor=0.27)
    session, measurements = simulated_picks(rng, before, after, Picks(voices=("bridge",)))
    plucks = measurements.plucks.copy()
    crest = 9.0 + dying_db(plucks["decay_early_s"].to_numpy())
    crest += np.where(plucks["stage"] == "after", squeeze_db, 0.0)
    plucks["peak_dbfs"] = plucks["level_dbfs"] + crest + 0.3 * rng.standard_normal(len(plucks))
    measurements = replace(measurements, plucks=plucks)
    mean = (plucks["peak_dbfs"] - plucks["level_dbfs"]).groupby(plucks["stage"]).mean()
    assert mean["after"] - mean["before"] > 1.0  # what alone would be taken for a compressor
    judged = judge_session(session, measurements).rows
    (confound,) = find_processing(session, measurements, judged).confounds
    assert confound.found is found
