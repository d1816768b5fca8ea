"""A small part of ``python tests/accuracy/positions_grid.py``."""

from __future__ import annotations

import numpy as np
import pytest
from positions_errors import SNRS_DB, Column, columns_of, text
from positions_truth import (
    FRETTED_NOTES,
    KINDS,
    OPEN_NOTES,
    SCALE_MM,
    PluckAmplitudes,
    VoiceTruth,
    voice_of,
)

from tonecompare.measure.place.pick_and_pickup import find_positions

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
    for name in ("pick mm", "pickup mm"):
        column = _joined(columns, name)
        # Voices are few; errors of one voice's picks hang together.
        assert column.inside(1.0) > 0.6, name
        assert column.inside(1.96) > 0.88, name


def _hard(kind: str, snr_db: float, number: int) -> VoiceTruth:
    """Voices of ``positions_grid.py --seed 77`` that once ended in a wrong dip."""
    rng = np.random.default_rng([77, number, KINDS.index(kind), int(snr_db)])
    return voice_of(rng, kind, snr_db, OPEN_NOTES if number % 2 else FRETTED_NOTES)


@pytest.mark.parametrize(
    ("kind", "snr_db", "number"),
    [("single", 60.0, 67), ("single", 30.0, 73), ("split", 60.0, 71), ("split", 30.0, 31)],
)
def test_pick_and_pickup_in_one_place_are_told_apart(kind: str, snr_db: float, number: int) -> None:
    truth = _hard(kind, snr_db, number)
    found = find_positions(truth.plucks)
    assert found.pickup_point is not None
    assert found.pickup_point * SCALE_MM == pytest.approx(truth.pickup_mm, abs=0.3)


def test_strings_that_scatter_keep_their_intervals() -> None:
    # 4 dB about the model, as real strings: half of it the same in all repeats of a note.
    pick, pickup = Column(), Column()
    for number in range(12):
        rng = np.random.default_rng([6, number])
        notes = [note for note in OPEN_NOTES[:6] for _ in range(4)]
        truth = voice_of(rng, KINDS[number % 3], 50.0, notes)
        shared = {note: rng.normal(0.0, 2.8, 24) for note in notes}
        plucks = [
            PluckAmplitudes(
                p.level_db + shared[note] + rng.normal(0.0, 2.8, 24),
                p.level_sd_db, p.frequency_hz, p.sounding,
            )
            for note, p in zip(notes, truth.plucks, strict=True)
        ]  # fmt: skip
        found = find_positions(plucks)
        for point, sd, true in zip(
            found.pluck_point, found.pluck_point_sd, truth.pick_mm, strict=True
        ):
            known = bool(np.isfinite(point))
            pick.add(float(point * SCALE_MM - true) if known else None, float(sd * SCALE_MM))
        assert found.pickup_point is not None
        assert found.pickup_point_sd is not None
        pickup.add(
            found.pickup_point * SCALE_MM - truth.pickup_mm, found.pickup_point_sd * SCALE_MM
        )
    assert len(pick.errors) > 0.8 * pick.tried
    assert np.mean(np.abs(pick.errors)) < 2.0
    assert pick.inside(1.96) > 0.88
    assert pickup.inside(1.96) > 0.8
