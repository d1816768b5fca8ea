"""A gain that moved: hiss and level together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, quiet, session, told_notes
from simulated_tables import Scatter, simulated_session

from tonecompare.compare import compare_session
from tonecompare.compare.cause_facts import GainFacts
from tonecompare.compare.causes.gain.turned_gain import find_gain
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import ComparisonSpec, Conditions, Session

SPEC = ComparisonSpec("stock", "rewound")
SIX = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6.0 / 5.0)
#: What a gain moves, in the simulated sessions.
GAIN = ("level_dbfs", "hum_dbfs", "hiss_dbfs", "buzz_dbfs", "noise_a_dbfs")


def _stage(
    stage: str, *, level: float, hiss: float, hum: float, voice: str = "bridge"
) -> tuple[pd.DataFrame, pd.DataFrame]:
    values = {
        n: [level + 0.1 * y + 0.5 * x for x in FIVE] for n, y in zip(STRINGS, SIX, strict=True)
    }
    quiets = {
        "hiss_dbfs": [hiss + 0.05 * x for x in FIVE],
        "hum_dbfs": [hum + 0.1 * x for x in FIVE],
    }
    return plucks(stage, {"level_dbfs": values}, voice=voice), quiet(stage, quiets, voice=voice)


Stages = tuple[tuple[float, float, float], tuple[float, float, float]]


def _compare(*voices: Stages) -> Comparisons:
    return compare_session(session("stock", "rewound", comparisons=[SPEC]), _measured(*voices))


def _measured(*voices: Stages) -> Measurements:
    frames, quiets = [], []
    for number, (before, after) in enumerate(voices):
        for stage, (level, hiss, hum) in (("stock", before), ("rewound", after)):
            p, q = _stage(stage, level=level, hiss=hiss, hum=hum, voice=f"voice-{number}")
            # The work's note-to-note scatter must not cancel: only the later stage has it.
            frames.append(
                p if stage == "rewound" else p.assign(level_dbfs=p["level_dbfs"].round(1))
            )
            quiets.append(q)
    return measurements(*frames, quiets=quiets)


def _gains(result: Comparisons) -> list[Confound]:
    return [confound for confound in result.confounds if confound.kind == "gain"]


def _all(result: Comparisons, quantity: str) -> pd.Series:
    table = told_differences(result)
    return table[(table["note"] == "all") & (table["quantity"] == quantity)].iloc[0]


def test_level_and_hiss_together_are_a_gain() -> None:
    result = _compare(((-20.0, -90.0, -70.0), (-14.0, -84.0, -64.0)))
    (gain,) = _gains(result)
    assert gain.found
    assert gain.estimate == pytest.approx(6.0, abs=0.01)
    assert gain.facts == GainFacts(1)
    level, hum = _all(result, "level_dbfs"), _all(result, "hum_dbfs")
    assert {level["verdict"], hum["verdict"]} <= {"no-change", "undecided"}
    assert level["adjusted_for"] == ("gain",)
    assert level["raw_difference"] == pytest.approx(6.0, abs=0.01)
    assert level["difference"] == pytest.approx(0.0, abs=0.05)
    assert level["ci_low"] < 0.0 < level["ci_high"]


def test_both_figures_are_shown_when_the_work_did_something_too() -> None:
    # Gain +6 dB in both voices; their hum rose by 2 dB on top of it.
    voices = [((-20.0, -90.0, -70.0), (-14.0, -84.0, -62.0))] * 2
    result = _compare(*voices)
    (gain,) = _gains(result)
    assert (gain.voice, gain.found) == ("", True)
    hum = _all(result, "hum_dbfs")
    assert hum["raw_difference"] == pytest.approx(8.0, abs=0.01)
    assert hum["difference"] == pytest.approx(2.0, abs=0.05)


def test_a_hotter_pickup_turned_down_again_is_told_as_such() -> None:
    """What careful people do: the bridge 3.4 dB hotter, the interface 3 dB lower for all voices."""
    result = _compare(
        ((-20.0, -90.0, -70.0), (-23.0, -93.0, -73.0)),
        ((-18.0, -90.0, -70.0), (-17.6, -93.0, -69.6)),
    )
    (gain,) = _gains(result)
    assert gain.estimate == pytest.approx(-3.0, abs=0.1)
    table = told_differences(result)
    level = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")]
    neck, bridge = level["difference"]
    assert neck == pytest.approx(0.0, abs=0.1)
    assert bridge == pytest.approx(3.4, abs=0.1)
    of_neck, of_bridge = level["verdict"]
    assert of_bridge == "likely-audible"
    assert of_neck not in ("likely-audible", "measurable", "confounded")


def test_what_session_toml_states_counts_and_is_contradicted() -> None:
    def stages(after_db: float) -> Session:
        known = session("stock", "rewound", comparisons=[SPEC])
        conditions = {"a": Conditions("a", 20.0), "b": Conditions("b", 20.0 + after_db)}
        named = {
            name: replace(stage, conditions=condition)
            for (name, stage), condition in zip(known.stages.items(), "ab", strict=True)
        }
        return replace(known, stages=named, conditions=conditions)

    measured = _measured(((-20.0, -90.0, -70.0), (-23.0, -93.0, -73.0)))
    rows = judge_session(stages(-3.0), measured).rows
    (gain,) = find_gain(stages(-3.0), measured, rows).confounds
    assert gain.facts == GainFacts(1, stated_db=-3.0)
    (gain,) = find_gain(stages(6.0), measured, rows).confounds
    assert gain.facts == GainFacts(1, stated_db=6.0, against_stated=True)
    assert gain.estimate == pytest.approx(-3.0, abs=0.2)


def test_a_louder_pickup_with_the_same_hiss_is_no_gain() -> None:
    result = _compare(((-20.0, -90.0, -70.0), (-14.0, -90.0, -68.0)))
    (gain,) = _gains(result)
    assert not gain.found
    assert _all(result, "level_dbfs")["verdict"] == "likely-audible"
    assert _all(result, "level_dbfs")["adjusted_for"] == ()


def test_more_hiss_with_the_same_level_is_no_gain() -> None:
    result = _compare(((-20.0, -90.0, -70.0), (-20.0, -86.0, -70.0)))
    assert not any(gain.found for gain in _gains(result))


def test_without_quiet_there_is_nothing_to_test() -> None:
    frames = [_stage(s, level=-20.0, hiss=0.0, hum=0.0)[0] for s in ("stock", "rewound")]
    result = compare_session(session("stock", "rewound", comparisons=[SPEC]), measurements(*frames))
    assert _gains(result) == []


def _rate(effects: dict[str, float], *, sessions: int, seed: int) -> float:
    rng = np.random.default_rng(seed)
    found = 0
    for _ in range(sessions):
        known = simulated_session(rng, Scatter(voices=("bridge", "neck")), effects=effects)
        confounds = find_gain(*known, judge_session(*known).rows).confounds
        found += any(gain.found for gain in confounds)
    return found / sessions


def test_one_decibel_of_gain_is_found() -> None:
    assert _rate(dict.fromkeys(GAIN, 1.0), sessions=15, seed=3) >= 0.9


def test_no_gain_is_found_where_nothing_moved() -> None:
    # At 5 %, more than 4 of 15 happens once in two thousand.
    assert _rate({}, sessions=15, seed=4) <= 4 / 15


def test_a_table_without_rows() -> None:
    known = session("stock", "rewound", comparisons=[SPEC])
    assert find_gain(known, measurements(), no_rows()).confounds == ()


def test_a_hair_of_hiss_is_no_gain() -> None:
    """0.2 dB of hiss, shown by many stretches, with the level: less than hiss wanders by itself."""
    hair = ((-20.0, -90.0, -70.0), (-19.8, -89.8, -69.8))
    assert not any(confound.found for confound in _gains(_compare(hair, hair)))
    more = ((-20.0, -90.0, -70.0), (-19.5, -89.5, -69.5))
    assert any(confound.found for confound in _gains(_compare(more, more)))


def test_a_gain_that_the_control_shows_too_is_said_to_be_its_drift() -> None:
    spec = ComparisonSpec("stock", "rewound", "plover-first", "plover-second")
    known = session("stock", "rewound", "plover-first", "plover-second", comparisons=[spec])
    frames, quiets = [], []
    for stage, level, more in (
        ("stock", -20.0, 0.0), ("rewound", -16.0, 1.0), ("plover-first", -22.0, 0.0),
        ("plover-second", -22.0, 1.0),
    ):  # fmt: skip
        p, q = _stage(stage, level=level + more, hiss=-90.0 + more, hum=-70.0 + more)
        later = stage in ("rewound", "plover-second")
        frames.append(p if later else p.assign(level_dbfs=p["level_dbfs"].round(1)))
        quiets.append(q)
    result = compare_session(known, measurements(*frames, quiets=quiets))
    notes = told_notes(result, spec.name)
    assert "The control's hiss and level moved together, by +1.0 dB" in notes
    (gain,) = _gains(result)
    assert not gain.found
    assert gain.facts == GainFacts(1, sure=False, controlled=True)
    assert _all(result, "level_dbfs")["difference"] == pytest.approx(4.0, abs=0.1)


def test_the_hiss_of_a_piezo_preamp_tells_nothing_of_the_interface() -> None:
    """A new preamp hisses 6 dB less and plays 6 dB lower: with a magnetic voice's hiss unmoved
    the gain stayed, and alone nothing is said."""
    frames, quiets = [], []
    for stage, more in (("stock", 0.0), ("rewound", -6.0)):
        p, q = _stage(stage, level=-20.0 + more, hiss=-80.0 + more, hum=-70.0 + more)
        frames.append(p.assign(output="piezo"))
        quiets.append(q.assign(output="piezo"))
    known = session("stock", "rewound", comparisons=[SPEC])
    measured = measurements(*frames, quiets=quiets)
    assert find_gain(known, measured, judge_session(known, measured).rows).confounds == ()


def test_what_is_left_is_no_surer_than_the_gain() -> None:
    """Variances add: the square of the half width grows by (1.96 sd of the gain)²."""
    measured = _measured(((-20.0, -90.0, -70.0), (-23.0, -93.0, -73.0)))
    known = session("stock", "rewound", comparisons=[SPEC])
    rows = judge_session(known, measured).rows
    found = find_gain(known, measured, rows)
    (gain,) = found.confounds
    assert gain.ci_high is not None
    assert gain.estimate is not None
    of_gain = gain.ci_high - gain.estimate
    assert of_gain > 0.1
    for one in found.adjustments:
        own = float(rows.ends[1][one.row] - rows.difference[one.row])
        assert one.high - one.difference == pytest.approx(np.hypot(own, of_gain), rel=1e-3)
