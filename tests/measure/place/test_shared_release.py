"""Resonances of several voices that one hand plays, whatever its release does to the treble."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.partials.early_row import EarlyRow
from tonecompare.measure.place.resonance import (
    RELEASE,
    TOO_FEW,
    Resonance,
    resonance_moved,
    resonances_of,
)
from tonecompare.measure.place.shared_release import fit_shared_release
from tonecompare.measure.resonances import SharedRelease

OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
Comb = Callable[[np.ndarray], np.ndarray]
#: Resonance in Hz and quality.
Coil = tuple[float, float]
BRIDGE, NECK = ("wren", "bridge", "magnetic"), ("wren", "neck", "magnetic")
LATER = ("wren2", "bridge", "magnetic")


def _one(u: np.ndarray) -> np.ndarray:
    """Pick 115 mm and pickup 52 mm from the bridge, coil 12 mm wide."""
    return np.sin(np.pi * u * 115 / 648) * np.sin(np.pi * u * 52 / 648) * np.sinc(u * 6 / 648)


def _other(u: np.ndarray) -> np.ndarray:
    """Pick 122 mm, pickup 150 mm from the bridge."""
    return np.sin(np.pi * u * 122 / 648) * np.sin(np.pi * u * 150 / 648) * np.sinc(u * 6 / 648)


def _parallel(u: np.ndarray) -> np.ndarray:
    """Pickups 45 and 160 mm from the bridge in parallel: no single comb."""
    both = np.sin(np.pi * u * 45 / 648) + np.sin(np.pi * u * 160 / 648)
    return 0.5 * both * np.sin(np.pi * u * 115 / 648)


def _smooth(hz: np.ndarray) -> np.ndarray:
    """A release over some time, dB: a Gaussian."""
    return -0.25 * (hz / 1000.0) ** 2


def _abrupt(hz: np.ndarray) -> np.ndarray:
    """A hold that fades over 0.2 ms, dB: |sinc|, 22 dB down at 4.5 kHz and level from there."""
    return 10.0 * np.log10(np.sinc(np.minimum(hz, 4500.0) * 2e-4) ** 2 + 10.0**-2.2)


def _rows(
    rng: np.random.Generator,
    coil: Coil,
    *,
    comb: Comb = _one,
    release: Comb = _abrupt,
    scatter_db: float = 1.0,
    repeats: int = 3,
    strings: tuple[int, ...] = (0, 1, 2, 3, 4, 5),
    top_hz: float = 8000.0,
) -> list[tuple[float, EarlyRow]]:
    """Rows of amplitude comb(u) / n under release and low-pass; notes differ in strength, slope.

    Half of the scatter's variance is the same in all repeats; a null is filled 25 dB down.
    """
    rows = []
    for string in strings:
        f0 = OPEN_HZ[string]
        n = np.arange(1, int(top_hz / f0))
        hz = n * f0
        level = 10.0 * np.log10(comb(n * 1.0) ** 2 + 10.0**-2.5) - 20.0 * np.log10(n)
        level = level + rng.normal(0, 6) + rng.normal(0, 1) * np.log2(hz / 1000)
        level = level + release(hz) - 0.05 * rng.random() * (hz / 1000) ** 2
        level = level + low_pass_db(hz, *coil)
        shared = rng.normal(0.0, scatter_db * 0.5**0.5, n.size)
        for _ in range(repeats):
            one = level + shared + rng.normal(0.0, scatter_db * 0.5**0.5, n.size)
            rows.append((1.0, EarlyRow(hz, 10.0 ** (one / 10.0))))
    return rows


def _fitted(rows: Mapping[tuple[str, str, str], list[tuple[float, EarlyRow]]]) -> SharedRelease:
    found = fit_shared_release(rows)
    assert found is not None
    return found


def _told(release: SharedRelease) -> Mapping[tuple[str, str, str], Resonance]:
    return resonances_of([release], release.keys)


@pytest.mark.parametrize("release", [_smooth, _abrupt])
@pytest.mark.parametrize("comb", [_one, _parallel])
def test_two_voices_tell_both_resonances_whatever_the_release(release: Comb, comb: Comb) -> None:
    rng = np.random.default_rng(4)
    true = {BRIDGE: (3500.0, 1.8), NECK: (4900.0, 1.4)}
    told = _told(
        _fitted(
            {
                BRIDGE: _rows(rng, true[BRIDGE], comb=comb, release=release, scatter_db=0.5),
                NECK: _rows(rng, true[NECK], comb=_other, release=release, scatter_db=0.5),
            }
        )
    )
    for key, (hz, _) in true.items():
        found = told[key].frequency_hz
        assert found.value == pytest.approx(hz, rel=0.12)
        assert found.uncertainty is not None
        assert abs(found.value - hz) < 2.5 * found.uncertainty


def test_intervals_of_resonances_and_of_what_they_moved_by_hold() -> None:
    of_one, of_both = [], []
    for seed in range(20):
        rng = np.random.default_rng([seed, 9])
        hz, factor = float(rng.uniform(2600.0, 4200.0)), float(rng.choice([0.75, 1.25]))
        rows = {
            BRIDGE: _rows(rng, (hz, 1.8), scatter_db=1.0),
            NECK: _rows(rng, (4900.0, 1.4), comb=_other, scatter_db=1.0),
            LATER: _rows(rng, (hz * factor, 1.8), scatter_db=1.0),
        }
        release = _fitted(rows)
        found = _told(release)[BRIDGE].frequency_hz
        if found.value is not None and found.uncertainty is not None:
            of_one.append((found.value - hz) / found.uncertainty)
        moved, sd = resonance_moved([release], BRIDGE, LATER)
        of_both.append((moved[0] - np.log(factor)) / sd[0])
        assert abs(moved[0]) > 1.96 * sd[0]
    assert len(of_one) >= 16
    assert np.mean(np.abs(of_one) < 1.96) >= 0.9
    assert np.mean(np.abs(of_both) < 1.96) >= 0.9


def test_one_voice_alone_is_withheld_and_what_it_moved_by_is_known() -> None:
    rng = np.random.default_rng(7)
    alone = _told(_fitted({BRIDGE: _rows(rng, (3500.0, 1.3), scatter_db=3.0)}))[BRIDGE]
    assert alone.frequency_hz.value is None
    assert alone.q.value is None
    assert alone.frequency_hz.reason == RELEASE
    same = _fitted({key: _rows(rng, (3500.0, 1.3), scatter_db=3.0) for key in (BRIDGE, LATER)})
    assert all(found.frequency_hz.value is None for found in _told(same).values())
    # The release is open in both alike: it drops out of the difference.
    moved, sd = resonance_moved([same], BRIDGE, LATER)
    assert sd[0] < 0.08 < min(same.sd(BRIDGE)[0], same.sd(LATER)[0])
    assert abs(moved[0]) < 1.96 * sd[0]


def test_a_high_resonance_is_told_as_surely_as_it_is_known_where_another_output_differs() -> None:
    given, off = 0, []
    for seed in range(10):
        rng = np.random.default_rng([seed, 11])
        hz = float(rng.uniform(4500.0, 5500.0))
        fitted = _fitted(
            {
                BRIDGE: _rows(rng, (3500.0, 1.8), release=_abrupt, scatter_db=1.0),
                NECK: _rows(rng, (hz, 1.4), comb=_other, release=_abrupt, scatter_db=1.0),
            }
        )
        found = _told(fitted)[NECK].frequency_hz
        if found.value is not None and found.uncertainty is not None:
            given += found.uncertainty > 0.1 * found.value
            off.append((found.value - hz) / found.uncertainty)
    assert given >= 1  # withheld at a limit of 10 %
    assert len(off) == 10
    assert np.mean(np.abs(off) < 1.96) >= 0.8


def test_one_of_many_alike_outputs_that_differs_by_chance_does_not_tell_the_release() -> None:
    """Of seven equal outputs one differs by two standard deviations in many a session."""
    rng, trials, told = np.random.default_rng(12), 400, 0
    keys = tuple(("stock", f"voice {n}", "magnetic") for n in range(7))
    shared_sd, own_sd = 0.115, 0.04
    covariance = np.zeros((14, 14))
    covariance[::2, ::2] = shared_sd**2
    covariance += np.diag(np.tile([own_sd**2, 0.1**2], 7))
    for _ in range(trials):
        low_pass = np.tile([np.log(4000.0), np.log(2.0)], (7, 1))
        low_pass[:, 0] += shared_sd * rng.standard_normal() + own_sd * rng.standard_normal(7)
        release = SharedRelease(keys, low_pass, covariance, np.full(7, 9000.0), True)
        told += resonances_of([release], keys)[keys[0]].frequency_hz.value is not None
    assert told / trials < 0.0455 + 3.0 * np.sqrt(0.0455 / trials)


def test_other_names_of_an_output_are_the_same_output() -> None:
    rng = np.random.default_rng(8)
    of = _fitted({BRIDGE: _rows(rng, (3000.0, 1.8)), NECK: _rows(rng, (4500.0, 1.8), comb=_other)})
    also = of.known_as({LATER: NECK, ("no", "such", "voice"): ("no", "such", "voice2")})
    assert also.keys == (BRIDGE, NECK, LATER)
    for one, other in ((NECK, LATER), (BRIDGE, BRIDGE)):
        moved, sd = also.difference(one, other)
        assert np.array_equal(moved, [0.0, 0.0])
        assert sd == pytest.approx([0.0, 0.0], abs=1e-6)
    for a, b in zip(also.difference(BRIDGE, LATER), of.difference(BRIDGE, NECK), strict=True):
        assert a == pytest.approx(b)


def test_a_resonance_beyond_the_partials_is_said_to_be_there() -> None:
    rng = np.random.default_rng(1)
    low = {"strings": (0, 1, 2), "top_hz": 4500.0}
    of = _fitted(
        {
            BRIDGE: _rows(rng, (5600.0, 2.5), **low, scatter_db=0.3),  # type: ignore[arg-type]
            NECK: _rows(rng, (2500.0, 2.0), comb=_other, scatter_db=0.3),
        }
    )
    assert _told(of)[BRIDGE].frequency_hz.reason == (
        "not determinable: it lies outside what the partials show (up to 4.3 kHz)"
    )
    assert np.isnan(resonance_moved([of], BRIDGE, NECK)).all()


def test_too_few_notes() -> None:
    rows = _rows(np.random.default_rng(1), (3000.0, 1.8), strings=(0, 1))
    assert fit_shared_release({BRIDGE: rows}) is None
    assert resonances_of([], [BRIDGE])[BRIDGE].frequency_hz.reason == TOO_FEW
    assert np.isnan(resonance_moved([], BRIDGE, NECK)).all()
