"""Small sessions for tests of check: clean takes of the string model, and one fault put in."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare import strings as st
from tonecompare.compare.check import check_session
from tonecompare.compare.check.check_results import CheckResult, Fault
from tonecompare.kept.store import user_store
from tonecompare.measure.inspected_takes import inspect_session
from tonecompare.session import load_session

RATE_HZ = 44_100.0
QUIET_S = 1.0
SPACING_S = 1.7
#: (string, fret): A2, G3.
NOTES = ((5, 0), (3, 0))
REPEATS = 3
DISTANCE_MM = {"bridge": 45.0, "neck": 150.0}
_LIKE = st.PluckSpec(0.0, 1, position_mm=115.0, decay_factor=0.3)


@cache
def take(
    voice: str = "bridge",
    *,
    seed: int = 1,
    notes: tuple[tuple[int, int], ...] = NOTES,
    repeats: int = REPEATS,
    hiss_dbfs: float = -80.0,
    hum_dbfs: float = -75.0,
    detune_cents: float = 0.0,
    strength_db: float = 0.0,
    damp_before_s: float = 0.12,
) -> np.ndarray:
    """Return a clean take, shape (n,): quiet, then each note ``repeats`` times in turn."""
    plucks = st.plucks_in_turn(
        list(notes),
        start_s=QUIET_S,
        spacing_s=SPACING_S,
        repeats=repeats,
        damp_before_s=damp_before_s,
        like=replace(_LIKE, detune_cents=detune_cents, strength_db=strength_db),
    )
    rng = np.random.default_rng(seed)
    # A steady player: what varies is small beside every fault put in.
    plucks = st.vary_plucks(plucks, rng=rng, spread=st.Spread(level_db=0.2, position_mm=0.5))
    pickup = st.humbucker(DISTANCE_MM[voice])
    rendered = st.render_recording(
        st.standard_instrument(),
        st.VoiceSpec(voice, (st.Channel("magnetic", pickup),)),
        plucks,
        rng=rng,
        rate_hz=RATE_HZ,
        noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=(hum_dbfs,), hiss_dbfs=hiss_dbfs),
        subtype="FLOAT",
    )
    samples = rendered.samples[0]
    samples.setflags(write=False)
    return samples


def onset_s(index: int) -> float:
    """Return when a pluck was let go, from 0."""
    return QUIET_S + SPACING_S * index


def write(path: Path, samples: np.ndarray, *, rate_hz: float = RATE_HZ, subtype="PCM_24") -> Path:
    """Write one recording, (n,) or (channels, n)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    sf.write(path, np.asarray(samples).T, round(rate_hz), subtype=subtype)
    return path


def check(root: Path, *, stage: str | None = None) -> CheckResult:
    """Check a session folder in this process; equal takes are measured once, as the test says."""
    session = load_session(root)
    measurements, files = inspect_session(session, store=user_store())
    return check_session(session, measurements, files, stage=stage)


def faults(root: Path) -> list[Fault]:
    """Return every fault of a session folder."""
    return [fault for answer in check(root).stages for fault in answer.faults]
