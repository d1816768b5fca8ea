"""Bench signs and the table of pickups."""

from __future__ import annotations

import pandas as pd
import pytest

from tonecompare.compare.model import BenchSign
from tonecompare.report.page.bench_section import pickup_views, sign_views


def _voice(**changes):
    return {
        "stage": "stock", "voice": "neck", "output": "magnetic", "n_plucks": 30, "n_notes": 6,
        "pickup_point": 0.245, "pickup_point_se": 0.003, "pickup_distance_mm": 158.7,
        "pickup_distance_mm_se": 2.1, "resonance_hz": 3240.0, "resonance_hz_se": 120.0,
        "resonance_q": 1.83, "resonance_q_se": 0.2, "flags": "", **changes,
    }  # fmt: skip


def test_pickups_carry_their_uncertainty():
    (view,) = pickup_views(pd.DataFrame([_voice()]))
    assert view.distance == "158.7 ± 2.1 mm"
    assert view.resonance == "3.24 ± 0.12 kHz"
    assert view.q == "1.83 ± 0.20"
    assert view.basis == "30 plucks, 6 notes"


def test_a_tenth_of_a_millimetre_is_the_least_that_is_claimed():
    (view,) = pickup_views(pd.DataFrame([_voice(pickup_distance_mm_se=0.02)]))
    assert view.distance == "158.7 ± 0.1 mm"


@pytest.mark.parametrize("missing", [None, float("nan")])
def test_without_a_scale_length_the_share_is_given(missing):
    (view,) = pickup_views(pd.DataFrame([_voice(pickup_distance_mm=missing)]))
    assert view.distance == "0.245 ± 0.003 of the string"


def test_what_cannot_be_determined_says_so():
    (view,) = pickup_views(pd.DataFrame([_voice(resonance_hz=None, resonance_q=None)]))
    assert view.resonance == "not determinable"
    assert view.q == "–"
    nothing = {"pickup_point": None, "pickup_distance_mm": None, "resonance_hz": None}
    assert pickup_views(pd.DataFrame([_voice(**nothing)])) == ()
    assert pickup_views(pd.DataFrame()) == ()


def test_signs_are_named_in_words():
    sign = BenchSign(
        "stock", "neck-split", "magnetic", "dead-spot", "E4", 1.2, "s", None, (1, 2.4, 3, 12)
    )
    (view,) = sign_views([sign])
    assert (view.kind, view.voice) == ("Dead spot", "Neck (split)")
    assert view.sentence.startswith("E4 on string 1 rings for 1.2 s (T60) where its neighbours")
