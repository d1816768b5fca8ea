"""How far a pick that moved can change what comes of the partials: closed forms of the string."""

from __future__ import annotations

import numpy as np

from tonecompare.compare.causes.hand.string_allows import string_allows
from tonecompare.quantities.compared import pluck_quantities

MOVED = tuple(q for q in pluck_quantities() if q.family in ("level", "spectrum", "partials"))


def allowed(before_mm: float, after_mm: float) -> dict[str, float]:
    """Return what a 648 mm string of 110 Hz allows."""
    places = (np.array([mm / 648.0]) for mm in (before_mm, after_mm))
    return string_allows(*places, MOVED, f0_hz=110.0)


def test_a_few_decibels_of_level_and_no_more() -> None:
    # Without a pickup's comb the sum of sin²(n pi p)/n² is pi² p (1 - p)/2 (Fourier series), so
    # from 120 to 205 mm the level rises by 10 lg(0.2163/0.1509) = 1.56 dB; a pickup adds to it.
    assert 1.5 < allowed(120.0, 205.0)["level_dbfs"] < 3.0
    assert allowed(120.0, 128.0)["level_dbfs"] < 0.5


def test_partials_are_allowed_what_the_comb_does() -> None:
    # Partial 5 comes out of a null: |sin(5 pi p)| from 0.233 to 0.969, 12.4 dB, of which the
    # sum of all takes its own rise of 0 to 3 dB.
    assert 9.0 < allowed(120.0, 205.0)["h05_db"] < 13.0


def test_the_same_place_allows_nothing() -> None:
    assert max(allowed(130.0, 130.0).values()) < 1e-9
