"""The demo's three sisters from their files to the table: every cell against what was rendered.

Truth is not worked out by what is tested: level is the RMS of the rendered motion without noise,
0.05 to 0.55 s after each pluck as it was played; hum and buzz are the power sums of the mains lines
that were put in (up to 1 kHz, and above).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.compare import compare_session
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.guitars.side_by_side import GuitarGroup, guitar_groups
from tonecompare.measure import measure_session
from tonecompare.session import load_session
from tonecompare.strings.demo_session.recipe import DemoRecording
from tonecompare.strings.demo_session.scenario import demo_recordings

COMMITTED = Path(__file__).resolve().parents[3] / "recordings_demo"
RECORDINGS = {(one.stage, one.voice.name): one for one in demo_recordings()}
#: Half the interval is the sample's; besides it the windows and lines are held to this.
WITHIN_DB = {"level_dbfs": 0.3, "hum_dbfs": 0.6, "buzz_dbfs": 0.6}
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def compared() -> tuple[GuitarGroup, Comparisons]:
    whole = load_session(COMMITTED)
    terns = {name: stage for name, stage in whole.stages.items() if name.startswith("tern")}
    session = replace(
        whole,
        stages=terns,
        recordings=tuple(one for one in whole.recordings if one.stage in terns),
        comparisons=tuple(spec for spec in whole.comparisons if spec.before in terns),
    )
    measured = measure_session(session, workers=1)
    (group,) = guitar_groups(session, measured)
    return group, compare_session(session, measured)


def _level(one: DemoRecording) -> float:
    """Mean over the strings of the mean level (dB) of its plucks, from samples without noise."""
    made = st.render_recording(
        one.instrument, one.voice, one.plucks, rng=np.random.default_rng(1), rate_hz=44100.0,
        length_s=one.length_s, subtype="FLOAT",
    )  # fmt: skip
    by_string: dict[int, list[float]] = {}
    for pluck in one.plucks:
        first = round((pluck.time_s + 0.05) * made.rate_hz)
        window = made.samples[0, first : first + round(0.5 * made.rate_hz)]
        by_string.setdefault(pluck.string, []).append(10 * np.log10(2 * np.mean(window**2)))
    return float(np.mean([np.mean(levels) for levels in by_string.values()]))


def _noise(one: DemoRecording, lines: slice) -> float:
    return float(10 * np.log10(np.sum(10 ** (np.array(one.noise[0].line_dbfs[lines]) / 10))))


def _truth(quantity: str, stage: str, voice: str) -> float:
    one = RECORDINGS[stage, voice]
    if quantity == "level_dbfs":
        return _level(one)
    # 50.01 Hz: lines 1 to 19 lie below 1 kHz, 20 at 1000.2 Hz above.
    return _noise(one, slice(0, 19) if quantity == "hum_dbfs" else slice(19, None))


def test_the_group_is_the_three_sisters(compared) -> None:
    group, _ = compared
    assert group.stages == ("tern-stock", "tern-light", "tern-full")
    assert group.sisters == ("tern-light", "tern-full")
    only = {each.voice for each in group.voices if each.reference == "tern-full"}
    assert only == {"bridge-split", "piezo"}


@pytest.mark.parametrize("stage", ["tern-light", "tern-full"])
@pytest.mark.parametrize("voice", ["bridge", "neck"])
@pytest.mark.parametrize("quantity", ["level_dbfs", "hum_dbfs", "buzz_dbfs"])
def test_every_cell_tells_what_was_rendered(compared, stage, voice, quantity) -> None:
    _, comparisons = compared
    rows = comparisons.differences
    rows = rows[(rows["comparison"] == f"tern-stock to {stage}") & (rows["voice"] == voice)]
    row = rows[(rows["note"] == "all") & (rows["quantity"] == quantity)].iloc[0]
    truth = _truth(quantity, stage, voice) - _truth(quantity, "tern-stock", voice)
    assert row["difference"] == pytest.approx(truth, abs=WITHIN_DB[quantity])
    assert row["ci_low"] - 0.2 <= truth <= row["ci_high"] + 0.2
