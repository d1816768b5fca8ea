"""Coil spacing from partials made of closed forms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.measured import Measured
from tonecompare.measure.place.coil_spacing import find_spacing
from tonecompare.measure.place.pick_and_pickup import PluckAmplitudes, Positions, find_positions

ORDER = np.arange(1, 25)
OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
SPACING = 18.0 / 648.0


def _voice(
    *,
    resonance_hz: float = 3500.0,
    q: float = 1.8,
    spacing: float = 0.0,
    width: float = 12.0 / 648.0,
    scatter_db: float = 0.2,
    frets: tuple[int, ...] = (0, 5, 12),
    strings: tuple[int, ...] = (0, 1, 2, 3, 4, 5),
    flat: bool = False,
) -> Positions:
    """|sin n pi p| |sin u pi d| sinc(u w/2) cos(u pi s/2) low-pass / n, u = n over the length."""
    rng = np.random.default_rng(8)
    plucks = []
    for fret in frets:
        sounding = 2.0 ** (-fret / 12.0)
        for string in strings:
            hz = OPEN_HZ[string] * ORDER / sounding
            wave = ORDER / sounding
            pick = (0.19 + 0.01 * rng.standard_normal()) / sounding
            amplitude = np.abs(np.sin(np.pi * ORDER * pick) * np.sin(np.pi * wave * 0.08)) / ORDER
            amplitude *= np.abs(np.sinc(wave * width / 2) * np.cos(np.pi * wave * spacing / 2))
            level = 20.0 * np.log10(amplitude + 1e-9)
            if not flat:
                level += low_pass_db(hz, resonance_hz, q)
            level += rng.normal(0.0, scatter_db, 24)
            plucks.append(PluckAmplitudes(level, np.full(24, 0.1), hz, sounding))
    return find_positions(plucks)


def _found(**kinds: Any) -> Measured:
    return find_spacing(_voice(**kinds))


def test_spacing_of_two_coils() -> None:
    found = _found(spacing=SPACING)
    assert found.value == pytest.approx(SPACING, rel=0.03)


def test_one_coil_has_no_spacing() -> None:
    found = _found(spacing=0.0)
    assert found.value is None
    assert found.reason.startswith("not determinable: ")


def test_a_wide_coil_is_not_two() -> None:
    for frets in ((0, 5, 12), (0, 0, 0)):
        found = _found(width=24.0 / 648.0, frets=frets)
        assert found.value is None


def test_open_strings_alone_leave_the_coils_open() -> None:
    # cos(n pi s / 2L) and a wide sinc are nearly the same up to partial 24 of an open string.
    voice = _voice(spacing=SPACING, frets=(0, 0, 0), scatter_db=1.5)
    assert voice.two_coils is None
    found = find_spacing(voice)
    assert found.value is None
    assert found.reason == "not determinable: the takes cannot tell two coils from one wide one"


def test_too_few_points() -> None:
    nothing = PluckAmplitudes(np.full(24, np.nan), np.full(24, np.nan), np.full(24, np.nan), 1.0)
    found = find_spacing(find_positions([nothing]))
    assert found.reason == "not determinable: too few partials stand above the noise"
