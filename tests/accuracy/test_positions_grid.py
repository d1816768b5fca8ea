"""A small part of ``python tests/accuracy/positions_grid.py``."""

from __future__ import annotations

import numpy as np
import pytest
from positions_errors import SNRS_DB, Column, columns_of, text
from positions_truth import KINDS

VOICES, SEED = 6, 2024


@pytest.fixture(scope="module")
def columns() -> dict[tuple[str, float], dict[str, Column]]:
    found = {
        (kind, snr_db): columns_of(kind, snr_db, voices=VOICES, seed=SEED)
        for kind in KINDS
        for snr_db in SNRS_DB
    }
    print(text([(kind, snr_db, each) for (kind, snr_db), each in found.items()]))
    return found


def _joined(columns: dict[tuple[str, float], dict[str, Column]], name: str) -> Column:
    out = Column()
    for each in columns.values():
        out.errors += each[name].errors
        out.stated += each[name].stated
        out.tried += each[name].tried
    return out


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("snr_db", SNRS_DB)
def test_places_beat_the_published_ones(
    columns: dict[tuple[str, float], dict[str, Column]], kind: str, snr_db: float
) -> None:
    # Mohamad, Dixon & Harte 2017, single pickups: 3.53 mm (pickup), 5.11 mm (pick) mean error.
    # A tenth of that; a humbucker's place moves with the mismatch of its coils, up to 0.5 mm.
    pick, pickup = columns[kind, snr_db]["pick mm"], columns[kind, snr_db]["pickup mm"]
    assert len(pick.errors) > 0.95 * pick.tried
    assert np.mean(np.abs(pick.errors)) < 0.5
    assert np.mean(np.abs(pickup.errors)) < 0.5


def test_resonance_within_a_few_percent(
    columns: dict[tuple[str, float], dict[str, Column]],
) -> None:
    for name, mean in (("resonance %", 3.0), ("Q %", 6.0)):
        column = _joined(columns, name)
        assert len(column.errors) > 0.7 * column.tried
        assert np.mean(np.abs(column.errors)) < mean
        # No bias: the bend of coils and release is not taken for the coil's.
        assert abs(np.median(column.errors)) < 1.0


def test_spacing_of_two_coils_only_where_there_are_two(
    columns: dict[tuple[str, float], dict[str, Column]],
) -> None:
    for kind in KINDS:
        found = [error for s in SNRS_DB for error in columns[kind, s]["spacing mm"].errors]
        if kind == "humbucker":
            assert len(found) >= VOICES  # the fretted half at least, at two of three ratios
            assert np.mean(np.abs(found)) < 1.0
        else:
            assert len(found) <= 1


def test_stated_intervals_hold(columns: dict[tuple[str, float], dict[str, Column]]) -> None:
    for name in ("pick mm", "pickup mm", "resonance %", "Q %"):
        column = _joined(columns, name)
        # Voices are few; errors of one voice's picks hang together.
        assert column.inside(1.0) > 0.6, name
        assert column.inside(1.96) > 0.88, name
