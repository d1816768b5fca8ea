"""The response of a change, from simulated plucks whose change of response is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulated_picks import OPEN_HZ, Picks, Playing, simulated_picks

from tonecompare.compare.model import Response
from tonecompare.compare.response.response_curve import find_responses, fit_response
from tonecompare.compare.response.response_probes import GRID_HZ, Probes, probes_of
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

ONE_VOICE = Picks(voices=("bridge",))


def _nothing(hz: np.ndarray) -> np.ndarray:
    return 0.0 * hz


def _bump(hz: np.ndarray) -> np.ndarray:
    return 6.0 * np.exp(-((np.log2(hz / 2500.0) / 0.5) ** 2)) - 3.0 / (1.0 + (hz / 200.0) ** 2)


def _found(rng: np.random.Generator, after: Playing) -> Response:
    session, measurements = simulated_picks(rng, Playing(), after, ONE_VOICE)
    (response,) = find_responses(measurements, {"c": session.comparisons[0]})
    return response


@pytest.mark.parametrize("truth", [_nothing, _bump])
@pytest.mark.parametrize("moved_mm", [0.0, 10.0])
def test_curve_is_the_change_and_its_band_covers_it(
    truth: Callable[[np.ndarray], np.ndarray], moved_mm: float
) -> None:
    rng = np.random.default_rng(3)
    after = Playing(place=0.17 + moved_mm / 648.0, response_db=truth)
    errors, covered = [], []
    for _ in range(8):
        response = _found(rng, after)
        there = np.isfinite(response.difference_db)
        assert there.sum() > 30
        true = truth(response.frequency_hz[there])
        errors.append(np.mean((response.difference_db[there] - true) ** 2))
        covered.append(
            np.mean((response.ci_low_db[there] <= true) & (true <= response.ci_high_db[there]))
        )
    # Plucks of 0.6 dB and six notes leave about 0.4 dB.
    assert np.sqrt(np.mean(errors)) < 0.8
    assert np.mean(covered) > 0.88


def _curve_of(plucks: pd.DataFrame, session: Session, measurements: Measurements) -> list[Response]:
    found = find_responses(replace(measurements, plucks=plucks), {"c": session.comparisons[0]})
    return list(found)


def test_a_comb_is_never_taken_off_one_side_alone() -> None:
    # Places unknown after the work: the comb taken off before alone stood in the curve as a change
    # of −6 to −3 dB.
    session, measurements = simulated_picks(
        np.random.default_rng(8), Playing(), Playing(), ONE_VOICE
    )
    plucks = measurements.plucks
    lost = plucks["stage"] == "after"
    blind = plucks.assign(pluck_point=plucks["pluck_point"].where(~lost))
    assert _curve_of(blind, session, measurements) == []
    # Unknown on three strings: the other three tell the curve.
    lost &= plucks["note"].isin(["E2", "D3", "B3"])
    some = plucks.assign(pluck_point=plucks["pluck_point"].where(~lost))
    (response,) = _curve_of(some, session, measurements)
    assert response.n_notes == 3
    there = np.isfinite(response.difference_db)
    assert np.max(np.abs(response.difference_db[there])) < 2.0


@pytest.mark.parametrize("wrong_mm", [12.0, 30.0, 85.0])
def test_places_that_the_partials_do_not_bear_out_give_no_curve(wrong_mm: float) -> None:
    session, measurements = simulated_picks(
        np.random.default_rng(9), Playing(), Playing(), ONE_VOICE
    )
    plucks = measurements.plucks
    moved = np.where(plucks["stage"] == "after", wrong_mm / 648.0, 0.0)
    wrong = plucks.assign(pluck_point=plucks["pluck_point"] + moved)
    assert _curve_of(wrong, session, measurements) == []
    assert len(_curve_of(plucks, session, measurements)) == 1


def test_a_note_let_go_more_softly_does_not_bend_the_curve() -> None:
    # Each note's treble bends by b_k f² (0.7 dB at 4 kHz, standard deviation) and the top is one
    # string's alone: the band has to allow for that. Truth 0 dB throughout.
    rng = np.random.default_rng(10)
    order = np.arange(1, 25)
    hz = np.concatenate([order * f0 for f0 in OPEN_HZ])
    note = np.repeat(np.arange(6), 24)
    covered = []
    for _ in range(12):
        bends = 0.7 * rng.standard_normal(6)[note] * (hz / 4000.0) ** 2
        difference = bends + 0.3 * rng.standard_normal(hz.size)
        probes = Probes(hz, difference, difference, np.full(hz.size, 0.01), note, 6)
        curve = fit_response(probes)
        assert curve is not None
        _, low, high = curve
        there = np.isfinite(low)
        covered.append(np.mean((low[there] <= 0.0) & (high[there] >= 0.0)))
    assert np.mean(covered) > 0.9


def test_a_gain_lifts_the_curve_as_a_whole() -> None:
    rng = np.random.default_rng(4)
    covered = []
    for _ in range(8):
        response = _found(rng, Playing(gain_db=5.0))
        there = np.isfinite(response.difference_db)
        assert np.median(response.difference_db[there]) == pytest.approx(5.0, abs=1.2)
        inside = (response.ci_low_db <= 5.0) & (response.ci_high_db >= 5.0)
        covered.append(inside[there].mean())
    assert np.mean(covered) > 0.85


def test_the_curve_ends_where_the_partials_do() -> None:
    response = _found(np.random.default_rng(5), Playing())
    there = np.isfinite(response.difference_db)
    # Partials run from 82.4 Hz (E2) to 24 x 329.6 Hz.
    assert response.frequency_hz[there][0] > 70.0
    assert response.frequency_hz[there][-1] < 9000.0
    assert (np.isfinite(response.ci_low_db) == there).all()


def test_grid_is_sixth_octaves_through_1_khz() -> None:
    assert np.diff(np.log2(GRID_HZ)) == pytest.approx(1.0 / 6.0)
    assert np.abs(GRID_HZ - 1000.0).min() == pytest.approx(0.0, abs=1e-9)


def test_partials_of_stiff_strings_are_set_where_they_stand() -> None:
    # Fletcher 1964: for B = 1e-3 partials 10 and 20 lie 81.6 and 290.4 cents above n f_1,
    # 1200 log2 sqrt((1 + B n²)/(1 + B)).
    session, measurements = simulated_picks(
        np.random.default_rng(6), Playing(), Playing(), ONE_VOICE
    )
    assert session.comparisons
    stretched = []
    for b in (np.nan, 1e-3):
        plucks = measurements.plucks.assign(inharmonicity=b)
        probes = probes_of(plucks, "before", "after")
        assert probes is not None
        stretched.append(probes.frequency_hz[probes.note == 0])
    cents = 1200.0 * np.log2(stretched[1] / stretched[0])
    assert cents[[0, 9, 19]] == pytest.approx([0.0, 81.6, 290.4], abs=0.2)


def test_one_note_is_no_curve() -> None:
    session, measurements = simulated_picks(
        np.random.default_rng(6), Playing(), Playing(), ONE_VOICE
    )
    plucks = measurements.plucks[measurements.plucks["note"] == "E2"]
    assert probes_of(plucks, "before", "after") is None
    assert session.comparisons


@pytest.mark.parametrize(("steps", "count"), [((2, 400), 1), ((80, 2), 0)])
def test_no_curve_from_spreads_that_did_not_come_to_rest(
    steps: tuple[int, int], count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tonecompare.compare.response.response_curve._STEPS", steps)
    session, measurements = simulated_picks(
        np.random.default_rng(6), Playing(), Playing(response_db=_bump), ONE_VOICE
    )
    assert len(find_responses(measurements, {"c": session.comparisons[0]})) == count
