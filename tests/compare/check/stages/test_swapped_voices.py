"""Swapped voices told by the comb of their partials alone: one stage, nothing to compare with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import check_takes as takes
import numpy as np
import pandas as pd
import pytest
from compare_frames import measurements, session

from tonecompare import strings as st
from tonecompare.compare.check.check_results import Checked, Fault
from tonecompare.compare.check.stages import swapped_voices
from tonecompare.compare.check.stages.swapped_voices import swapped_faults
from tonecompare.compare.check.stages.voice_sounds import Sounds


def _moving_pick(distance_mm: float, *, seed: int) -> np.ndarray:
    """Four open strings, twice each, picked 10 mm (sd) here and there, so that the comb shows."""
    rng = np.random.default_rng(seed)
    like = st.PluckSpec(0.0, 1, position_mm=115.0, decay_factor=0.3)
    plucks = st.plucks_in_turn(
        [(string, 0) for string in (6, 5, 4, 3)],
        start_s=1.0,
        spacing_s=1.7,
        repeats=2,
        damp_before_s=0.12,
        like=like,
    )
    plucks = st.vary_plucks(plucks, rng=rng, spread=st.Spread(level_db=0.2, position_mm=10.0))
    channel = st.Channel("magnetic", st.humbucker(distance_mm))
    noise = st.NoiseSpec(mains_hz=50.0, line_dbfs=(-75.0,), hiss_dbfs=-80.0)
    rendered = st.render_recording(
        st.standard_instrument(), st.VoiceSpec("any", (channel,)), plucks,
        rng=rng, rate_hz=takes.RATE_HZ, noise=noise, subtype="FLOAT",
    )  # fmt: skip
    return rendered.samples[0]


def _stage(root: Path, *, bridge_mm: float, neck_mm: float) -> list[Fault]:
    takes.write(root / "stock" / "bridge.wav", _moving_pick(bridge_mm, seed=1))
    takes.write(root / "stock" / "neck.wav", _moving_pick(neck_mm, seed=2))
    return [fault for fault in takes.faults(root) if fault.kind == "wrong voice"]


@pytest.mark.slow
def test_files_swapped_in_the_only_stage_there_is(tmp_path):
    found = _stage(tmp_path, bridge_mm=150.0, neck_mm=45.0)
    assert [(f.stage, f.voice, f.severity) for f in found] == [
        ("stock", "bridge", "again"),
        ("stock", "neck", "again"),
    ]
    # Where the pickups of the model sit, in mm.
    how, near, near_mm, far, far_mm = found[0].data
    assert (how, near, far) == ("place", "bridge", "neck")
    assert (near_mm, far_mm) == pytest.approx((150.0, 45.0), abs=0.5)


@pytest.mark.slow
def test_the_same_files_under_their_own_names(tmp_path):
    assert _stage(tmp_path, bridge_mm=45.0, neck_mm=150.0) == []


def _faults(places: dict[str, tuple[float, float]], *, output: str = "magnetic") -> list[Fault]:
    """Judge voices of which only the pickup's place is known: (share, standard uncertainty)."""
    rows = [
        {
            "stage": "stock",
            "voice": voice,
            "output": output,
            "pickup_point": p,
            "pickup_point_se": s,
        }
        for voice, (p, s) in places.items()
    ]
    known = replace(measurements(), voices=pd.DataFrame(rows))
    return list(swapped_faults(Checked(session("stock"), (), known)))


def test_places_must_differ_by_more_than_their_uncertainty_and_by_15_mm():
    # 648 mm: a share of 0.05 is 32 mm.
    far = {"bridge": (0.20, 0.003), "neck": (0.15, 0.003)}
    assert {fault.voice for fault in _faults(far)} == {"bridge", "neck"}
    assert _faults({name: (point, 0.009) for name, (point, _) in far.items()}) == []
    near = {"bridge": (0.17, 0.0005), "neck": (0.15, 0.0005)}  # 13 mm
    assert _faults(near) == []


def test_the_right_order_is_no_fault():
    assert _faults({"bridge": (0.07, 0.001), "middle": (0.15, 0.001), "neck": (0.23, 0.001)}) == []


def test_middle_and_neck_alone():
    found = _faults({"bridge": (0.07, 0.001), "middle": (0.23, 0.001), "neck": (0.15, 0.001)})
    assert {fault.voice for fault in found} == {"middle", "neck"}


def test_a_piezo_has_no_comb_and_other_names_no_order():
    swapped = {"bridge": (0.23, 0.001), "neck": (0.07, 0.001)}
    assert _faults(swapped, output="piezo") == []
    assert _faults({"one": (0.23, 0.001), "two": (0.07, 0.001)}) == []
    assert _faults({"bridge": (0.23, float("nan")), "neck": (0.07, 0.001)}) == []


@pytest.mark.parametrize("unknown", ["cross", "straight"])
def test_voices_with_too_few_partials_in_common_are_not_called_swapped(unknown, monkeypatch):
    # Rows and columns: bridge and neck of stage a, then of b; NaN where nothing was shared.
    keys = tuple((stage, voice, "magnetic") for stage in "ab" for voice in ("bridge", "neck"))
    apart = np.full((4, 4), 9.0)
    apart[0, 3] = apart[1, 2] = 0.5
    whole = apart.copy()
    apart[(1, 2) if unknown == "cross" else (1, 3)] = np.nan
    checked = SimpleNamespace(
        session=session("a", "b"), stages=lambda: ("a", "b"), measurements=measurements()
    )
    sounds = Sounds(keys, np.zeros((4, 1)), apart)
    monkeypatch.setattr(swapped_voices, "sounds_of", lambda _checked: sounds)
    assert list(swapped_faults(cast("Checked", checked))) == []
    sounds = replace(sounds, apart_db=whole)
    assert [fault.voice for fault in swapped_faults(cast("Checked", checked))] == ["bridge", "neck"]
