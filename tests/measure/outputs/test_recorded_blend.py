"""Ratio and polarity of a recorded blend, from other plucks of its two outputs."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from two_outputs import FloatArray, Wiring, open_strings

from tonecompare.measure.outputs.band_powers import band_cross, output_bands
from tonecompare.measure.outputs.recorded_blend import ratio_of_other_plucks
from tonecompare.measure.outputs.results import BandCross, BlendPair

WIRED = Wiring(delay_s=250e-6, low_pass_hz=4861.0, high_pass_hz=60.0, piezo_gain=0.8)


def _pairs(
    seed: int, wiring: Wiring = WIRED, *, pick: tuple[float, float] = (0.13, 0.28)
) -> list[BlendPair]:
    return open_strings(wiring, rng=np.random.default_rng(seed), length_s=0.5, pick=pick)


def _mixed(pair: BlendPair, ratio: float, polarity: int) -> FloatArray:
    return (1 - ratio) * pair.magnetic + polarity * ratio * pair.piezo


def _measured(pairs: list[BlendPair], ratio: float, polarity: int) -> dict[str, FloatArray]:
    powers = {}
    for pair in pairs:
        power = output_bands(_mixed(pair, ratio, polarity), None, pair)
        assert power is not None
        powers[pair.note] = power
    return powers


def _by_note(pairs: list[BlendPair]) -> dict[str, BandCross]:
    bands = {pair.note: band_cross(pair) for pair in pairs}
    return {note: band for note, band in bands.items() if band is not None}


@pytest.mark.parametrize(("ratio", "polarity"), [(0.25, 1), (0.5, -1), (0.7, 1)])
def test_powers_of_the_same_plucks_give_the_ratio_within_two_percent(
    ratio: float, polarity: int
) -> None:
    pairs = _pairs(4)
    found = ratio_of_other_plucks(_measured(pairs, ratio, polarity), _by_note(pairs))
    assert found.ratio == pytest.approx(ratio, abs=0.02)
    assert found.polarity == polarity
    assert found.misfit_db is not None
    assert found.misfit_db < 0.3


@pytest.mark.parametrize(("ratio", "polarity"), [(0.3, 1), (0.6, -1)])
def test_other_plucks_give_it_with_an_uncertainty(ratio: float, polarity: int) -> None:
    # Other strength; the pick within 1 % of the length (6 mm) of one place.
    pick = (0.18, 0.19)
    blend = [
        dataclasses.replace(p, magnetic=0.4 * p.magnetic, piezo=0.4 * p.piezo)
        for p in _pairs(5, pick=pick)
    ]
    outputs = _by_note(_pairs(6, pick=pick))
    found = ratio_of_other_plucks(_measured(blend, ratio, polarity), outputs)
    assert found.ratio is not None
    assert found.ratio_se is not None
    assert abs(found.ratio - ratio) < max(3 * found.ratio_se, 0.02)
    assert found.ratio == pytest.approx(ratio, abs=0.1)
    assert found.n_notes == 6


def test_plucks_at_quite_other_places_give_a_wide_uncertainty() -> None:
    found = ratio_of_other_plucks(_measured(_pairs(5), 0.3, 1), _by_note(_pairs(6)))
    assert found.ratio is not None
    assert found.ratio_se is not None
    assert found.ratio_se > 0.05
    assert abs(found.ratio - 0.3) < 3 * found.ratio_se


def test_quadrature_leaves_the_polarity_open() -> None:
    # Without filters and delay the outputs are in quadrature: both polarities sound alike.
    pairs = _pairs(7, Wiring())
    found = ratio_of_other_plucks(_measured(pairs, 0.4, 1), _by_note(pairs))
    assert found.ratio == pytest.approx(0.4, abs=0.02)
    other = ratio_of_other_plucks(_measured(pairs, 0.4, -1), _by_note(pairs))
    assert other.ratio == pytest.approx(0.4, abs=0.02)


def test_no_shared_note() -> None:
    pairs = _pairs(8)[:2]
    found = ratio_of_other_plucks({"C9": np.ones(25)}, _by_note(pairs))
    assert found.ratio is None
    assert found.polarity is None
    assert "no note of the blend" in found.reason


def test_a_few_bands_that_a_moved_pick_empties_do_not_rule() -> None:
    # The blend's powers exactly, then three bands of each note 12 dB down, as a node of the pick
    # would leave them. The least mean square follows them to a ratio of 0.295.
    pairs = _pairs(9)
    measured = _measured(pairs, 0.4, 1)
    holed = {}
    for note, power in measured.items():
        known = np.flatnonzero(np.isfinite(power))
        power = power.copy()
        power[known[3:6]] *= 10.0**-1.2
        holed[note] = power
    found = ratio_of_other_plucks(holed, _by_note(pairs))
    assert found.ratio == pytest.approx(0.4, abs=0.01)
    assert found.ratio_se is not None
    assert abs(found.ratio - 0.4) < 3 * found.ratio_se
