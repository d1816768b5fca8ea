"""A coil's resonance from whole rows of partials, whatever pick and pickups do over n / L."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.partials.early_row import EarlyRow
from tonecompare.measure.place.coil_response import CoilResponse, fit_coil_response
from tonecompare.measure.place.pick_and_pickup import PluckAmplitudes, no_positions
from tonecompare.measure.place.resonance import Resonance, find_resonance

OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
Comb = Callable[[np.ndarray], np.ndarray]


def _one(u: np.ndarray) -> np.ndarray:
    """Pick 115 mm and pickup 52 mm from the bridge, coil 12 mm wide."""
    return np.sin(np.pi * u * 115 / 648) * np.sin(np.pi * u * 52 / 648) * np.sinc(u * 6 / 648)


def _parallel(u: np.ndarray) -> np.ndarray:
    """Pickups 45 and 160 mm from the bridge in parallel: no single comb."""
    both = np.sin(np.pi * u * 45 / 648) + np.sin(np.pi * u * 160 / 648)
    return 0.5 * both * np.sin(np.pi * u * 115 / 648)


def _rows(
    rng: np.random.Generator,
    *,
    resonance_hz: float | None = 3400.0,
    q: float = 1.8,
    comb: Comb = _one,
    scatter_db: float = 1.0,
    repeats: int = 3,
    frets: tuple[int, ...] = (0,),
    strings: tuple[int, ...] = (0, 1, 2, 3, 4, 5),
) -> list[tuple[float, EarlyRow]]:
    """Rows of amplitude comb(u) / n under a low-pass; each note has its strength, slope, bend.

    Half of the scatter's variance is the same in all repeats; a null is filled 25 dB down.
    """
    rows = []
    for fret in frets:
        for string in strings:
            f0 = OPEN_HZ[string] * 2.0 ** (fret / 12.0)
            sounding = 2.0 ** (-fret / 12.0)
            n = np.arange(1, int(8000.0 / f0))
            hz = n * f0
            level = 10.0 * np.log10(comb(n / sounding) ** 2 + 10.0**-2.5) - 20.0 * np.log10(n)
            level = level + rng.normal(0, 6) + rng.normal(0, 1) * np.log2(hz / 1000)
            level = level - (0.15 + 0.1 * rng.random()) * (hz / 1000) ** 2
            if resonance_hz is not None:
                level = level + low_pass_db(hz, resonance_hz, q)
            shared = rng.normal(0.0, scatter_db * 0.5**0.5, n.size)
            for _ in range(repeats):
                one = level + shared + rng.normal(0.0, scatter_db * 0.5**0.5, n.size)
                rows.append((sounding, EarlyRow(hz, 10.0 ** (one / 10.0))))
    return rows


def _found(rows: list[tuple[float, EarlyRow]]) -> CoilResponse:
    found = fit_coil_response(rows)
    assert found is not None
    return found


def _told(rows: list[tuple[float, EarlyRow]]) -> Resonance:
    nan = np.full(24, np.nan)
    plucks = [PluckAmplitudes(nan, nan, nan, sounding, row) for sounding, row in rows]
    return find_resonance(no_positions(plucks, "the places are open"), plucks)


@pytest.mark.parametrize("comb", [_one, _parallel])
@pytest.mark.parametrize(("resonance_hz", "q"), [(2700.0, 2.2), (3400.0, 1.3), (4500.0, 1.8)])
def test_resonance_whatever_the_places(comb: Comb, resonance_hz: float, q: float) -> None:
    rows = _rows(np.random.default_rng(4), resonance_hz=resonance_hz, q=q, comb=comb)
    told = _told(rows)
    assert told.frequency_hz.value == pytest.approx(resonance_hz, rel=0.05)
    assert told.frequency_hz.uncertainty is not None
    assert told.frequency_hz.uncertainty < 0.06 * resonance_hz
    assert abs(told.frequency_hz.value - resonance_hz) < 2.0 * told.frequency_hz.uncertainty
    assert told.q.value == pytest.approx(q, rel=0.3)


def test_intervals_hold_where_partials_scatter_by_4_db() -> None:
    z, sds = [], []
    for seed in range(40):
        rng = np.random.default_rng([seed, 9])
        true = float(rng.uniform(2500.0, 5000.0))
        told = _told(_rows(rng, resonance_hz=true, scatter_db=4.0, frets=(0, 5))).frequency_hz
        if told.value is not None and told.uncertainty is not None:
            z.append((told.value - true) / told.uncertainty)
            sds.append(told.uncertainty / told.value)
    assert len(z) >= 32
    assert np.mean(np.abs(z) < 1.96) >= 0.9
    assert np.mean(np.abs(z) < 1.0) >= 0.6
    assert np.median(sds) < 0.06


def test_no_resonance_has_none_and_says_so() -> None:
    for seed in range(6):
        rows = _rows(np.random.default_rng([seed, 2]), resonance_hz=None, scatter_db=2.0)
        told = _told(rows).frequency_hz
        assert told.value is None
        assert told.reason in {
            "not determinable: no bump stands out of the partials' scatter",
            "not determinable: the partials scatter too much about a bump to place it",
        } or told.reason.startswith("not determinable: it lies outside what the partials show")


def test_a_resonance_beyond_the_partials_is_said_to_be_there() -> None:
    rows = [
        (sounding, EarlyRow(row.frequency_hz[:40], row.power[:40]))
        for sounding, row in _rows(
            np.random.default_rng(1), resonance_hz=5200.0, q=2.5, strings=(0, 1, 2)
        )
    ]
    told = _told(rows).frequency_hz
    assert told.value is None
    assert told.reason == (
        "not determinable: it lies outside what the partials show (up to 4.4 kHz)"
    )


def test_too_few_notes() -> None:
    assert fit_coil_response(_rows(np.random.default_rng(1), strings=(0, 1))) is None
    assert fit_coil_response([]) is None


def test_a_note_more_or_less_is_within_what_the_jackknife_says() -> None:
    rows = _rows(np.random.default_rng(6), scatter_db=3.0)
    whole = _found(rows)
    off = [
        _found([row for i, row in enumerate(rows) if i // 3 != left_out]).log_resonance
        for left_out in range(6)
    ]
    spread = np.sqrt(5.0 / 6.0 * np.sum((np.array(off) - np.mean(off)) ** 2))
    assert whole.sd_by_notes[0] == pytest.approx(spread, rel=0.5)


def test_two_ways_that_differ_are_less_sure_or_nothing() -> None:
    rows = _rows(np.random.default_rng(4))
    plucks = [PluckAmplitudes(*[np.full(24, np.nan)] * 3, s, row) for s, row in rows]
    free = find_resonance(no_positions(plucks, "open"), plucks)
    value, sd = free.frequency_hz.value, free.frequency_hz.uncertainty
    assert value is not None
    assert sd is not None

    def with_places(factor: float) -> Resonance:
        other = replace(free.frequency_hz, value=value * factor, uncertainty=0.01 * value)
        placed = replace(free, frequency_hz=other)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("tonecompare.measure.place.resonance._of_places", lambda _: placed)
            return find_resonance(no_positions(plucks, "open"), plucks)

    agreeing, apart, far = (with_places(factor) for factor in (1.005, 1.12, 1.4))
    assert agreeing.frequency_hz.uncertainty == pytest.approx(0.01 * value)
    assert apart.frequency_hz.uncertainty == pytest.approx(0.06 * value, rel=0.2)
    assert far.frequency_hz.value is None
