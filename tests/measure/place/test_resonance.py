"""Coil resonance and spacing from partials made of closed forms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.place.pick_and_pickup import PluckAmplitudes, Positions, find_positions
from tonecompare.measure.place.resonance import Resonance, find_resonance

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


def _found(**kinds: Any) -> Resonance:
    return find_resonance(_voice(**kinds))


@pytest.mark.parametrize(("resonance_hz", "q"), [(2800.0, 2.0), (4000.0, 1.2), (4600.0, 2.8)])
@pytest.mark.parametrize("spacing", [0.0, SPACING])
def test_resonance_whatever_the_coils(resonance_hz: float, q: float, spacing: float) -> None:
    found = _found(resonance_hz=resonance_hz, q=q, spacing=spacing)
    assert found.frequency_hz.value == pytest.approx(resonance_hz, rel=0.03)
    assert found.q.value == pytest.approx(q, rel=0.08)
    assert found.frequency_hz.uncertainty is not None
    assert abs(found.frequency_hz.value - resonance_hz) < 2.5 * found.frequency_hz.uncertainty


def test_spacing_of_two_coils() -> None:
    found = _found(spacing=SPACING).spacing
    assert found.value == pytest.approx(SPACING, rel=0.03)


def test_one_coil_has_no_spacing() -> None:
    found = _found(spacing=0.0).spacing
    assert found.value is None
    assert found.reason.startswith("not determinable: ")


def test_a_wide_coil_is_not_two_and_moves_no_resonance() -> None:
    for frets in ((0, 5, 12), (0, 0, 0)):
        found = _found(width=24.0 / 648.0, frets=frets)
        assert found.spacing.value is None
        assert found.frequency_hz.value == pytest.approx(3500.0, rel=0.02)


def test_open_strings_alone_leave_the_coils_open() -> None:
    # cos(n pi s / 2L) and a wide sinc are nearly the same up to partial 24 of an open string.
    voice = _voice(spacing=SPACING, frets=(0, 0, 0), scatter_db=1.5)
    assert voice.two_coils is None
    found = find_resonance(voice)
    assert found.spacing.value is None
    assert found.spacing.reason.startswith("not determinable: ")


def test_flat_response_has_no_resonance() -> None:
    found = _found(flat=True, scatter_db=1.0)
    assert found.frequency_hz.value is None
    assert found.q.value is None
    assert found.frequency_hz.reason.startswith("not determinable: ")


def test_resonance_beyond_the_partials_is_not_determinable() -> None:
    # Open low strings: partial 24 of D3 lies at 3.5 kHz, the resonance at 4.
    found = _found(resonance_hz=4000.0, frets=(0,) * 4, strings=(0, 1, 2))
    assert found.frequency_hz.value is None
    assert found.frequency_hz.reason == (
        "not determinable: it lies outside what the partials show (up to 3.4 kHz)"
    )


def test_scatter_widens_what_is_stated() -> None:
    still, wild = _found(scatter_db=0.1), _found(scatter_db=1.5)
    assert still.frequency_hz.uncertainty is not None
    assert wild.frequency_hz.value is None or (
        (wild.frequency_hz.uncertainty or 0.0) > 1.5 * still.frequency_hz.uncertainty
    )


def test_too_few_points() -> None:
    nothing = PluckAmplitudes(np.full(24, np.nan), np.full(24, np.nan), np.full(24, np.nan), 1.0)
    found = find_resonance(find_positions([nothing]))
    assert found.frequency_hz.reason == "not determinable: too few partials stand above the noise"


def test_a_fit_that_did_not_come_to_rest_asks_for_stronger_evidence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    voice = _voice()
    assert find_resonance(voice).frequency_hz.value is not None
    monkeypatch.setattr("tonecompare.measure.place.resonance._FLAT_ROUNDS", 1)
    # The bump of this voice is plain enough even so.
    assert find_resonance(voice).frequency_hz.value is not None
    monkeypatch.setattr("tonecompare.measure.place.resonance.OPEN_FIT_EVIDENCE", 1e6)
    found = find_resonance(voice).frequency_hz
    assert found.value is None
    assert found.reason == ("not determinable: the fit without a resonance did not come to rest")
