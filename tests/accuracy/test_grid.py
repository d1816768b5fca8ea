"""A small part of the accuracy grid (``python tests/accuracy/grid.py`` prints the whole)."""

from __future__ import annotations

import pytest
from accuracy_errors import Error, errors_of
from accuracy_table import BARS, Line, lines_of, text
from accuracy_takes import at_ratios, layouts

#: One fretted or open note a string; A2 (string 5, open) has its partial 5 on line 11 of 50 Hz.
NOTES = ((6, 5), (5, 0), (4, 12), (3, 0), (2, 5), (1, 12))


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, float, str], Line]:
    import numpy as np

    errors: list[Error] = []
    for kind, number in (("ideal", 0), ("plucked", 1)):
        rng = np.random.default_rng([4, number])
        layout = layouts(kind, 2, NOTES)[number]
        for noisy in at_ratios(layout, rng=rng, snrs_db=(60.0, 45.0, 30.0)):
            errors += errors_of(noisy, tmp_path_factory.mktemp("grid"))
    found = lines_of(errors)
    print(text(found))
    return {(line.quantity, line.snr_db, line.kind): line for line in found}


@pytest.mark.parametrize("kind", ["ideal", "plucked"])
@pytest.mark.parametrize("snr_db", [60.0, 45.0])
@pytest.mark.parametrize("quantity", list(BARS))
def test_bars(
    lines: dict[tuple[str, float, str], Line], quantity: str, snr_db: float, kind: str
) -> None:
    line = lines[quantity, snr_db, kind]
    assert line.measured == 1.0
    assert line.p95 <= BARS[quantity][snr_db], text([line])


@pytest.mark.parametrize("kind", ["ideal", "plucked"])
@pytest.mark.parametrize("snr_db", [60.0, 45.0, 30.0])
def test_positions_beat_the_published_ones(
    lines: dict[tuple[str, float, str], Line], snr_db: float, kind: str
) -> None:
    # Mohamad, Dixon & Harte 2017, single pickups: 3.53 mm (pickup), 5.11 mm (pick) mean error.
    assert lines["pick_mm", snr_db, kind].mean_abs < 2.0
    assert lines["pickup_mm", snr_db, kind].mean_abs < 2.0


@pytest.mark.parametrize("snr_db", [60.0, 45.0, 30.0])
def test_stated_intervals_hold(lines: dict[tuple[str, float, str], Line], snr_db: float) -> None:
    for quantity in ("f0_cents", "partial_db", "partial_decay_pct", "decay_pct", "centroid_pct"):
        both = [lines[quantity, snr_db, kind] for kind in ("ideal", "plucked")]
        n = sum(line.n_stated for line in both)
        share = sum(line.inside_95 * line.n_stated for line in both) / n
        # 12 plucks scatter by 6 %; partials are many but hang together.
        assert share > 0.80, text(both)


def test_a_wrong_onset_would_be_seen(lines: dict[tuple[str, float, str], Line]) -> None:
    assert 0.0 < lines["onset_ms", 60.0, "plucked"].rms < 0.2
