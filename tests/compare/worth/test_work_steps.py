"""Distance over money on tables and curves made here; truths follow from how they are made."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.response.spectral_distance import EDGES_HZ, shape_distance, shapes_of
from tonecompare.compare.run import compare_session
from tonecompare.compare.worth.work_steps import find_worth
from tonecompare.measure.model import Measurements, PluckCurves
from tonecompare.measure.pluck.centroid import BAND_HZ
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET
from tonecompare.session.model import Instrument, Session, Stage, WorkItem, Worth

OCTAVES_HZ = (63, 125, 250, 500, 1000, 2000, 4000, 8000)
NOTES = ("E2", "A2", "D3", "G3", "B3", "E4")


def _curves(shape_db: np.ndarray, level: float) -> PluckCurves:
    blank = np.zeros(0)
    return PluckCurves(BAND_HZ, shape_db + level, blank, blank, blank)


def _measurements(stages: dict[str, dict[str, tuple[float, float, float]]]) -> Measurements:
    """Make plucks: stage -> voice -> (level dB, decay s, tilt of the spectrum in dB an octave)."""
    rng, noise = np.random.default_rng(5), np.random.default_rng(6)
    rows, curves = [], {}
    for stage, voices in stages.items():
        for voice, (level, decay, tilt) in voices.items():
            file = f"{stage}/{voice}.wav"
            for number in range(1, 31):
                step = level + 0.5 * rng.standard_normal()
                rows.append({
                    "stage": stage, "voice": voice, "output": "magnetic", "file": file,
                    "channel": 1, "pluck": number, "note": NOTES[(number - 1) // 5],
                    "level_dbfs": step, "decay_s": decay * np.exp(0.04 * rng.standard_normal()),
                    **{
                        f"shape_{hz:04d}_db": tilt * np.log2(hz / 700.0) + noise.standard_normal()
                        for hz in OCTAVES_HZ
                    },
                })  # fmt: skip
                shape = -60.0 + tilt * np.log2(BAND_HZ / 700.0)
                shape = shape + 0.3 * rng.standard_normal(BAND_HZ.size)
                curves[(file, 1, number)] = _curves(shape, step)
    plucks = pd.DataFrame(rows).reindex(columns=list(MEASUREMENTS))
    plucks["string"] = plucks["string"].astype("Int64")
    plucks["flags"] = [()] * len(plucks)
    quiet, blend = pd.DataFrame(columns=list(QUIET)), pd.DataFrame(columns=list(BLEND))
    return Measurements(plucks=plucks, quiet=quiet, blend=blend, curves=curves)


def _session(**rate: float) -> Session:
    work = (WorkItem("new pickup", 60.0, 2.0),), (WorkItem("new pots", 20.0, 1.0),)
    stages = {
        "wren-stock": Stage("wren-stock", "wren", Path(), ratings={"neck": 5.0}),
        "wren-one": Stage("wren-one", "wren", Path(), "wren-stock", work=work[0],
                          ratings={"neck": 7.0}),
        "wren-two": Stage("wren-two", "wren", Path(), "wren-one", work=work[1]),
    }  # fmt: skip
    return Session("t", Path(), stages, (), worth=Worth("EUR", **rate))


@pytest.fixture(scope="module")
def measured() -> Measurements:
    return _measurements({
        "wren-stock": {"neck": (-20.0, 4.0, -3.0)},
        "wren-one": {"neck": (-16.0, 4.0, -4.0), "bridge": (-20.0, 4.0, 1.0)},
        "wren-two": {"neck": (-16.0, 2.5, -4.0)},
    })  # fmt: skip


def _of(step: object, family: str, against: str) -> object:
    return next(each for each in getattr(step, against) if each.family == family)


def test_distances_costs_and_ratings_of_two_steps(measured: Measurements) -> None:
    one, two = find_worth(_session(hourly_rate=30.0), measured)
    assert (one.stage, one.stock, two.before) == ("wren-one", "wren-stock", "wren-one")
    # 60 + 2 h at 30; 20 + 1 h at 30 on top.
    assert (one.money, two.money, two.total_money, two.total_hours) == (120.0, 50.0, 170.0, 3.0)
    level = _of(one, "level", "from_stock")
    # 4 dB over a threshold of 1 dB.
    assert level.ci_low < 4.0 < level.ci_high
    assert level.ci_high - level.ci_low < 2.0
    decay = _of(two, "decay", "from_before")
    # ln(2.5/4) over ln(0.75), the side for shorter decay.
    assert decay.value == pytest.approx(np.log(2.5 / 4.0) / np.log(0.75), rel=0.1)
    assert _of(two, "level", "from_before").ci_low == 0.0
    assert one.ratings == {"neck": (5.0, 7.0)}
    assert [new.voice for new in one.new_voices] == ["bridge"]
    assert one.new_voices[0].nearest == "neck"


def test_the_shape_is_that_of_the_band_that_moved_most(measured: Measurements) -> None:
    one, two = find_worth(_session(hourly_rate=30.0), measured)
    # 1 dB an octave down: 8 kHz is 3.51 octaves from 700 Hz; over a threshold of 1.5 dB.
    shape = _of(one, "shape", "from_stock")
    assert shape.ci_low < 3.51 / 1.5 < shape.ci_high
    assert shape.value == pytest.approx(3.51 / 1.5, abs=0.5)
    assert _of(two, "shape", "from_before").ci_low == 0.0


@pytest.mark.parametrize(
    ("moved", "value"),
    [
        # What the picking place explains is no work: the adjusted values count.
        ({"difference_adjusted": 0.0, "ci_low_adjusted": -0.6, "ci_high_adjusted": 0.6}, 0.0),
        # sqrt(3² - 3.6²) is nothing, sqrt(3² - 1.8²) = 2.4 dB, over 1.5 dB.
        ({"difference": 3.0, "ci_low": -0.6, "ci_high": 6.6}, 0.0),
        ({"difference": 3.0, "ci_low": 1.2, "ci_high": 4.8}, 1.6),
    ],
)
def test_what_is_not_the_works_or_not_known_is_no_distance(
    measured: Measurements, moved: dict[str, float], value: float
) -> None:
    session = _session(hourly_rate=30.0)
    compared = compare_session(session, measured)
    table = compared.holding("wren-stock to wren-one").differences
    table.loc[table["family"] == "shape", list(moved)] = list(moved.values())
    distance = _of(find_worth(session, measured, compared)[0], "shape", "from_before")
    assert distance.value == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("key", ["level", "level_dbfs"])
def test_the_owners_threshold_counts_under_both_its_names(measured: Measurements, key: str) -> None:
    session = replace(_session(hourly_rate=30.0), hearing_thresholds={key: 0.5})
    level = _of(find_worth(session, measured)[0], "level", "from_stock")
    # 4 dB over a threshold of 0.5 dB.
    assert level.ci_low < 8.0 < level.ci_high
    assert level.ci_low > 6.0


def test_one_step_has_one_average_whatever_later_steps_recorded() -> None:
    # The neck moves by 4 dB and the bridge not; the second step was not recorded with the bridge.
    known = _measurements({
        "wren-stock": {"neck": (-20.0, 4.0, -3.0), "bridge": (-20.0, 4.0, 1.0)},
        "wren-one": {"neck": (-16.0, 4.0, -3.0), "bridge": (-20.0, 4.0, 1.0)},
        "wren-two": {"neck": (-16.0, 4.0, -3.0)},
    })  # fmt: skip
    one, two = find_worth(_session(hourly_rate=30.0), known)
    stock, before = _of(one, "level", "from_stock"), _of(one, "level", "from_before")
    assert stock == before
    assert before.n_voices == 2
    # 4 and 0 dB over a threshold of 1 dB.
    assert before.value == pytest.approx(2.0, abs=0.3)
    assert one.shared_voices == ("neck", "bridge")
    assert (two.shared_voices, _of(two, "level", "from_before").n_voices) == (("neck",), 1)


def _sisters(measured: Measurements, *, model: str) -> tuple[Session, Measurements]:
    session = _session(hourly_rate=30.0)
    stages = {name: replace(stage, instrument=name) for name, stage in session.stages.items()}
    guitars = {name: Instrument(name, model=model) for name in stages}
    return replace(session, stages=stages, instruments=guitars), measured


def test_steps_from_one_sister_to_the_next_are_steps_too(measured: Measurements) -> None:
    one, two = find_worth(*_sisters(measured, model="wren"))
    assert (one.sister, two.sister) == (True, True)
    assert (one.money, two.money, two.total_money) == (120.0, 50.0, 170.0)
    assert [new.voice for new in one.new_voices] == ["bridge"]
    assert not find_worth(_session(), measured)[0].sister


def test_without_an_hourly_rate_hours_are_not_turned_into_money(measured: Measurements) -> None:
    one, _ = find_worth(_session(), measured)
    assert one.money is None
    assert (one.parts_cost, one.hours) == (60.0, 2.0)


def test_what_was_spent_before_the_first_recording_is_not_counted(measured: Measurements) -> None:
    session = _session(hourly_rate=30.0)
    stages = dict(session.stages)
    # A set-up at the shop, before anything was recorded.
    stages["wren-stock"] = replace(stages["wren-stock"], work=(WorkItem("set-up", 500.0, 9.0),))
    one, two = find_worth(replace(session, stages=stages), measured)
    # 60 + 2 h at 30, and 20 + 1 h at 30 on top: as without the set-up.
    assert (one.money, one.total_money, two.total_money) == (120.0, 120.0, 170.0)
    assert (one.total_hours, two.total_hours) == (2.0, 3.0)


def test_no_work_gives_no_steps(measured: Measurements) -> None:
    session = _session()
    stages = {name: replace(stage, work=()) for name, stage in session.stages.items()}
    assert find_worth(replace(session, stages=stages), measured) == ()


def test_shape_distance_of_a_tilt_is_its_closed_form_and_of_repeats_nought() -> None:
    quiet = _measurements({"a": {"v": (-20.0, 4.0, -3.0)}, "b": {"v": (-12.0, 4.0, -4.0)},
                           "c": {"v": (-20.0, 4.0, -3.0)}})  # fmt: skip
    shapes = shapes_of(quiet)
    tilted = shape_distance(shapes["a", "v", "magnetic"], shapes["b", "v", "magnetic"])

    # A tilt of 1 dB an octave: per band log2 f less the level match, over the bands in use. The
    # bands' own expected levels follow from the same made-up spectrum without scatter.
    def plain(tilt: float) -> np.ndarray:
        level = -60.0 + tilt * np.log2(BAND_HZ / 700.0)
        index = np.digitize(BAND_HZ, EDGES_HZ)
        power = np.array([np.sum(10 ** (level[index == k] / 10)) for k in range(1, EDGES_HZ.size)])
        return np.asarray(10 * np.log10(power / power.sum()))

    expected = float(np.sqrt(np.mean((plain(-4.0) - plain(-3.0)) ** 2)))
    assert tilted.value == pytest.approx(expected, rel=0.03)
    assert tilted.ci_low is not None
    assert tilted.ci_low < expected < (tilted.ci_high or 0.0)
    same = shape_distance(shapes["a", "v", "magnetic"], shapes["c", "v", "magnetic"])
    assert same.ci_low == 0.0
    assert (same.value or 0.0) < 0.15


def test_a_single_note_gives_a_reason_not_a_distance() -> None:
    rows = np.full((3, 31), -10.0)
    found = shape_distance({"E2": rows}, {"E2": rows})
    assert found.value is None
    assert "two notes" in found.reason
