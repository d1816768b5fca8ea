"""How near the response of a change and its equaliser come to noise-free truth, as a table.

    python tests/calibration/response_grid.py [--sessions N] [CASE …]

Both stages are played by a hand of ±4 mm on the instrument of :mod:`scenario_takes` (magnetic
pickups that bend, hum, 1/f noise); the truth is the same work played by a machine without noise,
partial by partial, as the median within a sixth of an octave.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
import pandas as pd
from scenario_takes import ROOM_DBFS, Condition, measured_file, modes_rendered

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.compare.model import Response
from tonecompare.compare.response.biquads import gain_db
from tonecompare.compare.response.equaliser import fit_equaliser
from tonecompare.compare.response.response_curve import find_responses
from tonecompare.compare.response.response_probes import GRID_HZ, probes_of
from tonecompare.measure.session import collected
from tonecompare.session.model import ComparisonSpec

#: Partials within this many octaves of a point are its truth.
NEAR_OCTAVES = 1.0 / 6.0
_VOICE = "voice"


def _condition(pickup: st.Magnetic | st.Parallel, *, pick_mm: float = 0.0) -> Condition:
    return Condition({_VOICE: pickup}, {_VOICE: ROOM_DBFS}, pick_mm=pick_mm)


def _louder(pickup: st.Magnetic, db: float) -> st.Magnetic:
    coils = tuple(replace(c, sensitivity=c.sensitivity * 10 ** (db / 20)) for c in pickup.coils)
    return replace(pickup, coils=coils)


def _lower(pickup: st.Magnetic, factor: float) -> st.Magnetic:
    inductance_h = pickup.circuit.inductance_h / factor**2
    return replace(pickup, circuit=replace(pickup.circuit, inductance_h=inductance_h))


def _bending(pickup: st.Magnetic) -> st.Magnetic:
    """Set a pickup at a usual distance from the strings, which bends what it gives."""
    coils = tuple(replace(coil, law=st.DistanceLaw()) for coil in pickup.coils)
    return replace(pickup, coils=coils)


_BRIDGE, _NECK = _bending(st.humbucker(45.0)), _bending(st.single_coil(150.0))
_SINGLE, _NEXT = _bending(st.single_coil(45.0)), _bending(st.single_coil(95.0))


def cases() -> Mapping[str, tuple[Condition, Condition]]:
    """What is done between the stages, by name."""
    both = _condition(st.in_parallel(_BRIDGE, _NECK))
    return {
        "bridge, nothing": (_condition(_BRIDGE), _condition(_BRIDGE)),
        "bridge, picked 8 mm away": (_condition(_BRIDGE), _condition(_BRIDGE, pick_mm=8.0)),
        "bridge, resonance -25 %": (_condition(_BRIDGE), _condition(_lower(_BRIDGE, 0.75))),
        "both, nothing": (both, both),
        "both, bridge +3.4 dB": (both, _condition(st.in_parallel(_louder(_BRIDGE, 3.4), _NECK))),
        "both, bridge split": (both, _condition(st.in_parallel(st.split_coil(_BRIDGE), _NECK))),
        "45 and 95 mm, +3 dB": (
            _condition(st.in_parallel(_SINGLE, _NEXT)),
            _condition(st.in_parallel(_louder(_SINGLE, 3.0), _NEXT)),
        ),
    }


@dataclass(frozen=True)
class Found:
    """One session: RMS errors in dB and the share of points whose band has the truth.

    ``equaliser_db`` is NaN where none was found.
    """

    curve_db: float
    equaliser_db: float
    covered: float


def stages(before: Condition, after: Condition, seed: Sequence[int]) -> pd.DataFrame:
    """Play and measure both stages; return their plucks."""
    with TemporaryDirectory() as takes:
        played = [
            measured_file(modes_rendered, condition, _VOICE, [*seed, stage], Path(takes))
            for stage, condition in enumerate((before, after))
        ]
    measured = [one.as_stage[name] for one, name in zip(played, ("before", "after"), strict=True)]
    return collected(measured).plucks


def truth_db(before: Condition, after: Condition) -> FloatArray:
    """Return the work's own response on the grid, NaN where no partial is near."""
    plucks = stages(before.work_alone(), after.work_alone(), [0])
    probes = probes_of(plucks, "before", "after", placed=False)
    assert probes is not None
    apart = np.abs(np.log2(probes.frequency_hz)[:, np.newaxis] - np.log2(GRID_HZ))
    near = np.where(apart <= NEAR_OCTAVES, probes.difference_db[:, np.newaxis], np.nan)
    some = np.isfinite(near).any(axis=0)
    truth = np.full(GRID_HZ.size, np.nan)
    truth[some] = np.nanmedian(near[:, some], axis=0)
    return truth


def response_of(plucks: pd.DataFrame) -> Response | None:
    """Return the response of the only voice, None where there is none."""
    measurements = replace(collected([]), plucks=plucks)
    found = find_responses(measurements, {"c": ComparisonSpec("before", "after")})
    return found[0] if found else None


def judged(response: Response, truth: FloatArray) -> Found:
    """Set a response and its equaliser against the truth."""
    there = np.isfinite(response.difference_db) & np.isfinite(truth)
    error = (response.difference_db - truth)[there]
    inside = (response.ci_low_db <= truth) & (truth <= response.ci_high_db)
    equaliser, equaliser_db = fit_equaliser(response), float("nan")
    if equaliser is not None:
        made = gain_db(equaliser.bands, GRID_HZ[there], rate_hz=equaliser.rate_hz)
        made = made + equaliser.overall_gain_db
        equaliser_db = float(np.sqrt(np.mean((made - truth[there]) ** 2)))
    return Found(float(np.sqrt(np.mean(error**2))), equaliser_db, float(inside[there].mean()))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sessions", type=int, default=3)
    parser.add_argument("cases", nargs="*", metavar="CASE")
    given = parser.parse_args()
    for name, (before, after) in cases().items():
        if given.cases and name not in given.cases:
            continue
        truth = truth_db(before, after)
        print(f"{name}: truth {np.nanmin(truth):+.1f} to {np.nanmax(truth):+.1f} dB")
        for session in range(given.sessions):
            response = response_of(stages(before, after, [1 + session]))
            if response is None:
                print("   no curve")
                continue
            found = judged(response, truth)
            print(
                f"   curve {found.curve_db:.2f} dB RMS, equaliser {found.equaliser_db:.2f}, "
                f"band covers {found.covered:.2f}"
            )


if __name__ == "__main__":
    main()
