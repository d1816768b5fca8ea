"""Real repeats: what is said of a pluck does not hang on which others it is measured with."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from real_repeats import measured_file

from tonecompare.measure.place.pick_and_pickup import (
    PluckAmplitudes,
    Positions,
    amplitudes_of,
    find_positions,
)

SCALE_MM = 648.0
#: Frets of the notes: open E2 and A2, C3 on the A string, open E4 (the string is not told by the
#: files; these are the lowest places).
FRETS = {"e3": 0, "a3": 0, "c4": 3, "e5": 0}


@pytest.fixture(scope="module")
def plucks(recordings: Path) -> dict[str, list[PluckAmplitudes]]:
    """Four notes, four repeats, two dynamics of one guitar."""
    out: dict[str, list[PluckAmplitudes]] = {"f": [], "mf": []}
    for path in sorted((recordings / "two-guitars" / "green" / "ord").glob("*.flac")):
        _, note, dynamic, _ = path.stem.split("_")
        result = measured_file(path)
        assert result is not None
        longest = int(np.argmax([float(str(pluck.value("ring_s"))) for pluck in result.plucks]))
        partials = list(result.partials.values())[longest]
        sounding = 2.0 ** (-FRETS[note] / 12.0)
        out[dynamic].append(amplitudes_of(partials, sounding=sounding))
    return out


def _places_mm(found: Positions, plucks: Sequence[PluckAmplitudes]) -> np.ndarray:
    return found.pluck_point * np.array([p.sounding or np.nan for p in plucks]) * SCALE_MM


def test_subsets_place_the_pickup_alike(plucks: dict[str, list[PluckAmplitudes]]) -> None:
    everything = [*plucks["f"], *plucks["mf"]]
    subsets = [range(16), range(16, 32), range(32), range(0, 32, 2), range(1, 32, 2)]
    found = [find_positions([everything[i] for i in subset]) for subset in subsets]
    places = [each.pickup_point for each in found if each.pickup_point is not None]
    # Loud plucks alone may leave it open.
    assert len(places) >= 3
    assert max(places) - min(places) < 1.5 / SCALE_MM
    sds = [each.pickup_point_sd or 0.0 for each in found if each.pickup_point is not None]
    assert max(places) - min(places) < 2.0 * max(sds)


def test_places_keep_still_whatever_they_are_measured_with(
    plucks: dict[str, list[PluckAmplitudes]],
) -> None:
    everything = [*plucks["f"], *plucks["mf"]]
    subsets = [range(16), range(16, 32), range(32), range(0, 32, 2), range(1, 32, 2)]
    places = np.full((len(subsets), 32), np.nan)
    for row, subset in zip(places, subsets, strict=True):
        chosen = [everything[i] for i in subset]
        row[list(subset)] = _places_mm(find_positions(chosen), chosen)
    gaps = np.stack([np.abs(a - b) for a, b in itertools.combinations(places, 2)])
    softer = gaps[:, 16:][np.isfinite(gaps[:, 16:])]
    assert softer.size >= 10
    assert np.max(softer) < 6.0
    # The loud ones slap the frets and follow no comb well: most are open, the rest agree.
    loud = gaps[:, :16][np.isfinite(gaps[:, :16])]
    assert np.isfinite(places[:, :16]).sum() < np.isfinite(places[:, 16:]).sum()
    assert np.max(loud, initial=0.0) < 6.0
