"""How many more plucks would settle a row."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tonecompare.compare.difference.difference_rows import DifferenceRows, make_rows, text
from tonecompare.compare.difference.plucks_needed import plucks_needed
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.quantities.compared import quantity_of


def _block(
    difference: float, se: float, df: float, *, repeat_variance: float, notes: int = 6
) -> DifferenceRows:
    return make_rows(
        "a to b",
        "bridge",
        "magnetic",
        text("all", 1),
        [quantity_of("level_dbfs")],
        means=(np.zeros(1), np.array([difference])),
        counts=(np.array([5.0 * notes]), np.array([5.0 * notes]), np.array([float(notes)])),
        estimate=Estimate(np.array([difference]), np.array([se]), np.array([df])),
        repeat_variance=np.array([repeat_variance]),
        unjudged=text("", 1),
    )


def _needed(block: DifferenceRows) -> tuple[float, float]:
    needed = plucks_needed(block, np.array([0.1]), np.array([-1.0]), np.array([1.0]))
    return float(needed.plucks[0]), float(needed.notes[0])


def test_closed_form_towards_no_change() -> None:
    # All of the variance is the plucks', difference 0: the half-width t se must fall to 1 dB,
    # so f = (t se)² with t(0.975, 5), and 5 (f - 1) more plucks.
    se = 0.6
    plucks, _ = _needed(_block(0.0, se, 5.0, repeat_variance=se**2))
    factor = (stats.t.ppf(0.975, 5) * se) ** 2
    assert plucks == np.ceil(5.0 * (factor - 1.0))


def test_closed_form_towards_showing_a_difference() -> None:
    # 3 dB lies outside the threshold: only showing it is left, at a tenth of 5 %.
    se = 1.0
    plucks, _ = _needed(_block(3.0, se, 5.0, repeat_variance=se**2))
    factor = (stats.t.ppf(1.0 - 0.0025, 5) * se / 3.0) ** 2
    assert plucks == np.ceil(5.0 * (factor - 1.0))


def test_what_the_notes_scatter_no_pluck_takes_away() -> None:
    plucks, notes = _needed(_block(0.0, 0.6, 5.0, repeat_variance=0.01))
    assert plucks == np.inf
    # t(0.975, K - 1) 0.6 sqrt(6/K) <= 1 first holds for K = 11 (scipy.stats.t.ppf).
    widths = {k: stats.t.ppf(0.975, k - 1) * 0.6 * np.sqrt(6 / k) for k in (10, 11)}
    assert widths[10] > 1.0 > widths[11]
    assert notes == pytest.approx(5, abs=1)


def test_planned_plucks_do_settle_it() -> None:
    # Simulated: plucks planned from a wide row bring the half-width to the promised size.
    rng = np.random.default_rng(21)
    block = _block(0.0, 0.55, 5.0, repeat_variance=0.55**2)
    plucks, _ = _needed(block)
    sd = 0.55 * np.sqrt(6 * 5 / 2)
    new = rng.normal(0.0, sd * np.sqrt(2 / (5 + plucks)), (4000, 6))
    half = stats.t.ppf(0.975, 5) * new.std(axis=1, ddof=1) / np.sqrt(6)
    assert np.sqrt((half**2).mean()) == pytest.approx(1.0, abs=0.05)


def test_a_single_note_cannot_ask_for_notes() -> None:
    assert _needed(_block(0.0, 0.6, 8.0, repeat_variance=0.36, notes=1))[1] == np.inf
