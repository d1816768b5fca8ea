"""The few bands that turn before into after."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.model import EqualiserBand, Response
from tonecompare.compare.response.biquads import gain_db
from tonecompare.compare.response.equaliser import (
    MOST_BANDS,
    SHELF_Q,
    find_equalisers,
    fit_equaliser,
    plainest,
)
from tonecompare.compare.response.response_probes import GRID_HZ

RATE_HZ = 48000.0


def _response(difference_db: np.ndarray, half_db: float = 0.3) -> Response:
    return Response(
        "before to after",
        "bridge",
        "magnetic",
        GRID_HZ,
        difference_db,
        difference_db - half_db,
        difference_db + half_db,
        6,
    )


def test_a_change_made_of_a_shelf_and_a_bell_is_found_again() -> None:
    made = (
        EqualiserBand("low-shelf", 200.0, -3.0, SHELF_Q),
        EqualiserBand("peak", 2500.0, 6.0, 1.5),
    )
    change = 2.0 + gain_db(made, GRID_HZ, rate_hz=RATE_HZ)
    found = fit_equaliser(_response(change))
    assert found is not None
    assert [band.kind for band in found.bands] == ["low-shelf", "peak"]
    for band, true in zip(found.bands, made, strict=True):
        assert band.frequency_hz == pytest.approx(true.frequency_hz, rel=0.02)
        assert band.gain_db == pytest.approx(true.gain_db, abs=0.15)
    assert found.bands[1].q == pytest.approx(1.5, rel=0.05)
    assert found.overall_gain_db == pytest.approx(2.0, abs=0.1)
    assert found.rms_before_db == pytest.approx(float(np.sqrt(np.mean(change**2))), rel=1e-9)
    assert found.rms_left_db < 0.1
    assert found.share == pytest.approx(1.0 - found.rms_left_db / found.rms_before_db)


def test_last_digits_of_the_response_move_no_band() -> None:
    made = (EqualiserBand("peak", 2500.0, 6.0, 1.5), EqualiserBand("peak", 400.0, -3.0, 0.8))
    change = 2.0 + gain_db(made, GRID_HZ, rate_hz=RATE_HZ)
    # As other threads of the linear algebra would leave them.
    noise_db = 1e-12 * np.random.default_rng(4).standard_normal(GRID_HZ.size)
    one, other = (fit_equaliser(_response(each)) for each in (change, change + noise_db))
    assert one is not None
    assert other is not None
    assert one.bands == other.bands
    assert one.overall_gain_db == other.overall_gain_db


@pytest.mark.parametrize(
    ("kind", "frequency_hz", "told"),
    [
        ("low-shelf", 2350.0, "high-shelf"), ("high-shelf", 150.0, "low-shelf"),
        ("low-shelf", 150.0, "low-shelf"), ("high-shelf", 2350.0, "high-shelf"),
        ("peak", 2350.0, "peak"),
    ],
)  # fmt: skip
def test_a_shelf_is_told_from_the_end_it_is_nearer_to(
    kind: str, frequency_hz: float, told: str
) -> None:
    # With A = 10^(G/40): low shelf A (s² + s sqrt(A)/Q + A)/(A s² + s sqrt(A)/Q + 1) is A² times
    # the high shelf of 1/A, so that the whole correction stays the same at every frequency.
    bands = (EqualiserBand(kind, frequency_hz, 8.6, SHELF_Q),
             EqualiserBand("peak", 400.0, -2.0, 1.0))  # fmt: skip
    overall_db, other = plainest(-5.0, bands)
    assert {band.kind for band in other if band.frequency_hz == frequency_hz} == {told}
    hz = np.geomspace(20.0, 20000.0, 50)
    assert overall_db + gain_db(other, hz, rate_hz=RATE_HZ) == pytest.approx(
        -5.0 + gain_db(bands, hz, rate_hz=RATE_HZ), abs=1e-9
    )
    assert [band.frequency_hz for band in other] == sorted(band.frequency_hz for band in other)


def test_its_impulse_response_makes_the_change() -> None:
    change = gain_db((EqualiserBand("peak", 1200.0, -8.0, 1.0),), GRID_HZ, rate_hz=RATE_HZ)
    found = fit_equaliser(_response(change))
    assert found is not None
    n = found.impulse_response.size
    spectrum = 20.0 * np.log10(np.abs(np.fft.rfft(found.impulse_response)))
    at_grid = np.interp(GRID_HZ, np.fft.rfftfreq(n, 1.0 / found.rate_hz), spectrum)
    assert at_grid == pytest.approx(change, abs=0.3)
    # Minimum phase: most of the energy comes first.
    energy = np.cumsum(found.impulse_response**2)
    assert energy[64] > 0.9 * energy[-1]


def test_a_flat_change_needs_no_band() -> None:
    found = fit_equaliser(_response(np.full(GRID_HZ.size, 3.0)))
    assert found is not None
    assert found.bands == ()
    assert found.overall_gain_db == pytest.approx(3.0, abs=1e-6)
    assert found.share == pytest.approx(1.0, abs=1e-6)


def test_what_few_bands_cannot_make_is_left() -> None:
    ripple = 4.0 * np.sin(2.0 * np.pi * np.log2(GRID_HZ / 100.0) * 1.5)
    found = fit_equaliser(_response(ripple))
    assert found is not None
    assert len(found.bands) <= MOST_BANDS
    assert found.rms_left_db > 1.0
    assert 0.0 <= found.share < 0.6


def test_no_change_and_too_few_points_give_nothing() -> None:
    assert fit_equaliser(_response(np.full(GRID_HZ.size, 0.2))) is None
    hole = np.full(GRID_HZ.size, np.nan)
    hole[:4] = 5.0
    assert fit_equaliser(_response(hole)) is None
    assert find_equalisers([_response(hole)]) == ()


def test_no_band_from_a_trial_that_did_not_come_to_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    change = gain_db([EqualiserBand("peak", 2500.0, 6.0, 1.5)], GRID_HZ, rate_hz=RATE_HZ)
    whole = fit_equaliser(_response(change))
    assert whole is not None
    assert len(whole.bands) == 1
    monkeypatch.setattr("tonecompare.compare.response.equaliser._MOST_EVALUATIONS", 2)
    cut = fit_equaliser(_response(change))
    assert cut is not None
    assert cut.bands == ()
    assert cut.rms_left_db > 1.0
