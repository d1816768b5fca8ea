"""What the tests for confounds find, adjust and leave alone, each on a session made for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from cause_rates import resonance_change
from simulated_picks import Picks, Playing, simulated_picks

from tonecompare.compare.cause_facts import (
    LoadFacts,
    MainsFacts,
    PlaceFacts,
    ProcessingFacts,
    Stated,
    StrengthFacts,
    StringsFacts,
    TuningFacts,
    UntoldPlaceFacts,
)
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.find_causes import Test, apply_confounds
from tonecompare.compare.causes.hand.hand_effects import TYPICAL_TILT, Slope, combined_slope
from tonecompare.compare.causes.hand.picking_place import adjusted_rows, find_position
from tonecompare.compare.causes.hand.picking_strength import find_strength
from tonecompare.compare.causes.load import TOP_HZ, _is_found, _Voice, find_load
from tonecompare.compare.causes.mains import find_mains
from tonecompare.compare.causes.processing import find_processing
from tonecompare.compare.causes.rows_to_explain import voices_of
from tonecompare.compare.causes.string_age import find_strings
from tonecompare.compare.causes.taken_out import with_taken_out
from tonecompare.compare.causes.tuning import find_tuning
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.compare.model import Confound
from tonecompare.measure.flags import Flag, unmeasured_flag
from tonecompare.measure.measured import Measured
from tonecompare.measure.model import Measurements
from tonecompare.measure.table import MeasuredSubject, MeasurementTable, Subject
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.session.model import Conditions, Session

ONE_VOICE = Picks(voices=("bridge",))
TEN_MM = 10.0 / 648.0


def _run(
    find: Test, session: Session, measurements: Measurements
) -> tuple[ConfoundFindings, pd.DataFrame]:
    rows = judge_session(session, measurements).rows
    findings = find(session, measurements, rows)
    left = with_taken_out(rows, findings.adjustments)
    return findings, to_frame(apply_confounds(left, findings.confounds))


def _made(after: Playing, *, seed: int = 1, picks: Picks | None = None, only: str = ""
          ) -> tuple[Session, Measurements]:  # fmt: skip
    rng = np.random.default_rng(seed)
    return simulated_picks(rng, Playing(), after, picks, only=only)


def _only(findings: ConfoundFindings) -> Confound:
    (confound,) = findings.confounds
    return confound


def test_an_untold_place_is_doubted_where_the_hand_moved_for_another_voice() -> None:
    session, measurements = _made(Playing(place=0.17 + TEN_MM))
    bridge = measurements.plucks["voice"] == "bridge"
    plucks = measurements.plucks.copy()
    plucks.loc[bridge, "pluck_point"] = np.nan
    findings, _ = _run(find_position, session, replace(measurements, plucks=plucks))
    of = {one.voice: one for one in findings.confounds}
    assert of["bridge"].found
    assert of["bridge"].facts == UntoldPlaceFacts(("middle", "neck"))
    assert {"h05_db", "centroid_hz", "band_2000_db"} <= set(of["bridge"].explains)
    # No string allows the level to move by what is heard, and no place moves a resonance.
    assert not {"level_dbfs", "resonance_hz"} & set(of["bridge"].explains)
    # Where the hand stayed for the others, nothing is doubted.
    steady = _made(Playing())[1]
    plucks = steady.plucks.copy()
    plucks.loc[plucks["voice"] == "bridge", "pluck_point"] = np.nan
    findings, _ = _run(find_position, session, replace(steady, plucks=plucks))
    assert not any(one.found for one in findings.confounds)


def test_position_says_how_far_and_which_way_and_gives_the_difference_again() -> None:
    made = _made(Playing(place=0.17 + TEN_MM), picks=ONE_VOICE)
    findings, table = _run(find_position, *made)
    confound = _only(findings)
    assert confound.found
    assert confound.estimate == pytest.approx(TEN_MM, abs=0.006)
    # All notes moved one way, on the 648 mm of the made instrument.
    assert confound.facts == PlaceFacts(None, 648.0)
    rows = table[(table["note"] == "all") & (table["raw_ci_low"] * table["raw_ci_high"] > 0.0)]
    partials = rows[rows["quantity"].str.match(r"h\d\d_db")]
    assert len(partials) >= 2
    assert set(partials["adjusted_for"]) == {("pick-position",)}
    # With the place taken out most of the difference is gone.
    left = partials["difference"].abs().sum() / partials["raw_difference"].abs().sum()
    assert left < 0.4
    assert not partials["verdict"].isin(["likely-audible", "measurable"]).any()


def test_position_keeps_what_another_response_did() -> None:
    def louder(hz: np.ndarray) -> np.ndarray:
        return 6.0 + 0.0 * hz

    made = _made(Playing(place=0.17 + TEN_MM, response_db=louder), picks=ONE_VOICE)
    findings, table = _run(find_position, *made)
    level = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")].iloc[0]
    assert "level_dbfs" not in _only(findings).explains
    assert level["verdict"] in ("likely-audible", "measurable")
    assert level["difference"] == pytest.approx(6.0, abs=1.0)


def test_position_not_measured_is_no_test() -> None:
    session, measurements = _made(Playing(place=0.17 + TEN_MM), picks=ONE_VOICE)
    plucks = measurements.plucks.assign(pluck_point=np.nan)
    findings, _ = _run(find_position, session, replace(measurements, plucks=plucks))
    assert findings.confounds == ()


def test_position_unmoved_says_so() -> None:
    findings, _ = _run(find_position, *_made(Playing(), picks=ONE_VOICE, seed=5))
    confound = _only(findings)
    assert not confound.found
    assert confound.ci_low is not None
    assert confound.ci_high is not None
    # Within 5 mm on 648 mm, and not moving is one of the answers.
    assert -0.008 < confound.ci_low < 0.0 < confound.ci_high < 0.008


def test_a_place_that_is_wrong_takes_no_more_than_the_string_allows() -> None:
    # Two pickups' sum read as a pick 85 mm away: 5 to 6 dB were taken before it was bounded.
    session, measurements = _made(Playing(), picks=ONE_VOICE)
    after = measurements.plucks["stage"] == session.comparisons[0].after
    measurements.plucks.loc[after, "pluck_point"] += 85.0 / 648.0
    rows = judge_session(session, measurements).rows
    # The partials did not move as such a pick would have them, so it is not believed …
    assert not _only(find_position(session, measurements, rows)).found
    # … and if it were, it could take out no more than this.
    (voice,) = voices_of(rows)
    taken = {
        (str(rows.column[one.row]), str(rows.note[one.row])): one.difference
        - float(rows.difference[one.row])
        for one in adjusted_rows(voice, measurements, "pick-position")
    }
    # The ideal string's 10 lg p (1 - p) is 1.7 dB from 0.17 to 0.30.
    assert abs(taken["level_dbfs", "all"]) < 3.0
    assert max(abs(size) for (column, _), size in taken.items() if column == "level_dbfs") < 3.5


def test_the_place_of_one_note_moves_no_others() -> None:
    # One real guitar: E2 alone had a place, and its comb took 58 % off the centroid of all notes.
    session, measurements = _made(Playing(), picks=ONE_VOICE)
    plucks = measurements.plucks
    after = plucks["stage"] == session.comparisons[0].after
    plucks.loc[plucks["note"] != "E2", "pluck_point"] = np.nan
    plucks.loc[after, "pluck_point"] += 85.0 / 648.0
    findings, _ = _run(find_position, session, measurements)
    assert not _only(findings).found
    assert not findings.adjustments


def test_a_row_over_the_notes_moves_as_its_notes_do() -> None:
    session, measurements = _made(Playing(place=0.17 + TEN_MM), picks=ONE_VOICE)
    plucks = measurements.plucks
    plucks.loc[plucks["note"] == "E4", "pluck_point"] = np.nan
    rows = judge_session(session, measurements).rows
    taken: dict[str, list[float]] = {}
    for one in find_position(session, measurements, rows).adjustments:
        if rows.column[one.row] == "centroid_hz":
            name = "all" if rows.note[one.row] == "all" else "notes"
            taken.setdefault(name, []).append(one.difference - float(rows.difference[one.row]))
    assert len(taken["notes"]) == 5
    assert taken["all"] == pytest.approx([np.mean(taken["notes"])])


@pytest.mark.parametrize("strength", [4.0, -4.0])
def test_strength_explains_everything_a_hand_does(strength: float) -> None:
    findings, table = _run(find_strength, *_made(Playing(strength_db=strength), picks=ONE_VOICE))
    confound = _only(findings)
    assert confound.found
    # Partial 1 moved by the strength, the upper ones by more, so the level does too.
    assert confound.estimate is not None
    assert 1.0 <= confound.estimate / strength < 1.8
    assert isinstance(confound.facts, StrengthFacts)
    assert confound.facts.louder_db * strength > 0.0
    assert confound.facts.tilt_db_per_octave * strength > 0.0
    assert {"level_dbfs", "tilt_db_per_octave", "decay_s", "attack_ms"} <= set(confound.explains)
    assert not table["verdict"].isin(["likely-audible", "measurable"]).any()
    tilt = table[(table["note"] == "all") & (table["quantity"] == "tilt_db_per_octave")].iloc[0]
    assert tilt["ci_low"] <= 0.0 <= tilt["ci_high"]
    assert abs(tilt["difference"]) < abs(tilt["raw_difference"])


def test_files_brought_to_one_level_are_said_to_differ_at_the_peak() -> None:
    session, measurements = _made(Playing(strength_db=6.0), picks=ONE_VOICE)
    by_level = _only(_run(find_strength, session, measurements)[0]).facts
    assert isinstance(by_level, StrengthFacts)
    assert not by_level.at_peak
    plucks = measurements.plucks
    plucks["peak_dbfs"] = plucks["level_dbfs"] + 12.0
    after = plucks["stage"] == session.comparisons[0].after
    level = plucks.groupby("stage")["level_dbfs"].mean()
    rise_db = float(level[session.comparisons[0].after] - level[session.comparisons[0].before])
    plucks.loc[after, "level_dbfs"] -= rise_db
    confound = _only(_run(find_strength, session, measurements)[0])
    assert confound.found
    assert confound.estimate == pytest.approx(rise_db, abs=0.3)
    assert isinstance(confound.facts, StrengthFacts)
    assert confound.facts.at_peak


@pytest.mark.parametrize("level", [3.0, -6.0])
def test_louder_or_quieter_alone_is_no_strength(level: float) -> None:
    made = _made(Playing(response_db=lambda hz: level + 0.0 * hz), picks=ONE_VOICE)
    findings, table = _run(find_strength, *made)
    assert not _only(findings).found
    row = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")].iloc[0]
    assert row["verdict"] == "likely-audible"


def test_louder_and_duller_is_no_strength() -> None:
    made = _made(Playing(response_db=lambda hz: 8.0 - np.log2(hz / 80.0)), picks=ONE_VOICE)
    assert not _only(_run(find_strength, *made)[0]).found


def test_slope_of_the_session_counts_by_its_precision() -> None:
    assert combined_slope(None) == combined_slope(Slope(0.2, 1.0)) == Slope(*TYPICAL_TILT)
    # Equal precision: the mean of both, and a standard error sqrt(2) smaller.
    both = combined_slope(Slope(0.15, 0.1199999))
    assert both.value == pytest.approx(0.20, abs=1e-5)
    assert both.se == pytest.approx(0.12 / np.sqrt(2.0), rel=1e-5)
    # One that no hand makes is not believed.
    assert combined_slope(Slope(-0.8, 0.01)) == Slope(*TYPICAL_TILT)


def test_tuning_names_the_worst_note_and_explains_what_follows_pitch() -> None:
    findings, table = _run(find_tuning, *_made(Playing(cents=-30.0), picks=ONE_VOICE))
    confound = _only(findings)
    assert confound.found
    assert confound.estimate == pytest.approx(-30.0, abs=1.0)
    assert isinstance(confound.facts, TuningFacts)
    assert confound.facts.worst_note
    assert confound.facts.worst_cents == pytest.approx(-30.0, abs=3.0)
    assert "cents" in confound.explains
    assert (table.loc[table["quantity"] == "cents", "verdict"] == "confounded").any()


def test_three_cents_are_the_same_tuning() -> None:
    assert not _only(_run(find_tuning, *_made(Playing(cents=3.0), picks=ONE_VOICE))[0]).found


def test_strings_that_aged_explain_ringing_and_top_but_not_level() -> None:
    def dull(hz: np.ndarray) -> np.ndarray:
        return -np.log2(np.maximum(hz / 500.0, 1.0))

    confound = _only(_run(find_strings, *_made(Playing(decay_high=0.6, response_db=dull)))[0])
    assert confound.found
    assert confound.estimate is not None
    # 0.6 at partial 12, in proportion below: partials 6-12 against 1-3 ring 0.6^(8/11) as long.
    assert confound.estimate == pytest.approx(100.0 * (0.6 ** (7.0 / 11.0) - 1.0), abs=6.0)
    assert confound.facts == StringsFacts(None, confound.estimate, None)
    assert {"decay_s", "decay_h08_s", "centroid_hz"} <= set(confound.explains)
    assert "level_dbfs" not in confound.explains


def test_all_partials_dying_faster_alike_is_not_the_strings() -> None:
    assert not _only(_run(find_strings, *_made(Playing(decay_factor=0.75)))[0]).found


def test_strings_that_session_toml_says_differ_are_named() -> None:
    session, measurements = _made(Playing())
    session = _with_conditions(
        session, {"strings_gauge": ".010-.046"}, {"strings_gauge": ".011-.049"}
    )
    confound = _only(_run(find_strings, session, measurements)[0])
    assert confound.found
    stated = Stated("strings_gauge", ".010-.046", ".011-.049")
    assert confound.facts == StringsFacts(stated, None, None)


def _with_conditions(session: Session, one: dict[str, object], other: dict[str, object]
                     ) -> Session:  # fmt: skip
    stages = {
        name: replace(stage, conditions=f"{name}-conditions")
        for name, stage in session.stages.items()
    }
    conditions = {
        "before-conditions": Conditions("before-conditions", **one),  # type: ignore[arg-type]
        "after-conditions": Conditions("after-conditions", **other),  # type: ignore[arg-type]
    }
    return replace(session, stages=stages, conditions=conditions)


CABLE = Playing(response_db=resonance_change((4861.0, 1.42), (3658.0, 1.73)))


def test_load_needs_every_magnetic_voice_to_move() -> None:
    everywhere = _only(_run(find_load, *_made(CABLE))[0])
    assert everywhere.found
    assert isinstance(everywhere.facts, LoadFacts)
    assert everywhere.facts.band_hz in TOP_HZ
    assert "bridge" in dict(everywhere.facts.moved_db)
    assert not _only(_run(find_load, *_made(CABLE, only="bridge"))[0]).found


@pytest.mark.parametrize(("neck_hz", "found"), [(3700.0, True), (4800.0, False)])
def test_resonances_that_moved_apart_had_no_common_cable(neck_hz: float, found: bool) -> None:
    # The bands moved alike; that the bridge's resonance fell by a quarter and the neck's did not
    # (1 % and 24 % within 3 %) no cable does.
    session, measurements = _made(CABLE)
    table = MeasurementTable(
        tuple(
            MeasuredSubject(
                Subject("voices", stage, voice, "magnetic"),
                {
                    "n_plucks": Measured(30, ""), "n_notes": Measured(6, ""),
                    "resonance_hz": Measured(hz, "Hz", 0.03 * hz),
                },
            )
            for stage, voice, hz in (
                ("before", "bridge", 4861.0), ("before", "neck", 4861.0),
                ("after", "bridge", 3658.0), ("after", "neck", neck_hz),
            )
        )
    )  # fmt: skip
    measurements = replace(measurements, table=table, voices=table.to_frame("voices"))
    assert _only(_run(find_load, session, measurements)[0]).found == found


@pytest.mark.parametrize(("louder_db", "found"), [(0.0, True), (0.9, False)])
def test_a_cable_makes_no_pickup_louder(louder_db: float, found: bool) -> None:
    bands, few = np.array([1.3, 1.4, -4.0]), np.full(3, 5.0)
    voices = [
        _Voice(
            name, "magnetic", Estimate(bands, np.full(3, 0.3), few),
            Estimate(np.array(louder_db), np.array(0.1), np.array(5.0)),
        )
        for name in ("bridge", "neck")
    ]  # fmt: skip
    assert _is_found(voices, []) == found


def test_load_of_one_voice_cannot_be_told() -> None:
    assert _run(find_load, *_made(CABLE, picks=ONE_VOICE))[0].confounds == ()


@pytest.mark.parametrize(
    ("before", "after", "found"),
    [
        ({"cable_length_m": 3.0, "input_impedance_ohm": 1e6}, {}, False),
        ({"cable_length_m": 3.0}, {}, True),
        (
            {"cable_length_m": 3.0, "input_impedance_ohm": 1e6},
            {"cable_length_m": 3.0, "input_impedance_ohm": 1e6, "cable_pf_per_m": 150.0},
            True,
        ),
    ],
)
def test_pots_are_left_where_cable_and_input_are_said_to_be_the_same(before, after, found) -> None:
    session, measurements = _made(CABLE)
    session = _with_conditions(session, before, after or before)
    confound = _only(_run(find_load, session, measurements)[0])
    assert confound.found == found
    assert isinstance(confound.facts, LoadFacts)
    assert (confound.facts.stated_same, len(confound.facts.moved_db)) == (not found, 3)
    text = cause_text(confound)
    assert ("other pots" in text, "session.toml has the same" in text) == (True, not found)


def test_load_that_session_toml_says_differs_is_named() -> None:
    session, measurements = _made(CABLE)
    session = _with_conditions(session, {"cable_length_m": 3.0}, {"cable_length_m": 6.0})
    confound = _only(_run(find_load, session, measurements)[0])
    assert confound.found
    assert isinstance(confound.facts, LoadFacts)
    assert confound.facts.stated == Stated("cable_length_m", 3.0, 6.0)


def test_a_mark_on_one_side_only_is_processing() -> None:
    session, measurements = _made(Playing(), picks=ONE_VOICE)
    plucks = measurements.plucks.copy()
    after = (Flag("lossy"), unmeasured_flag("below the noise", "h24_db"))
    plucks["flags"] = [after if stage == "after" else () for stage in plucks["stage"]]
    confound = _only(_run(find_processing, session, replace(measurements, plucks=plucks))[0])
    assert confound.found
    assert confound.facts == ProcessingFacts((("lossy", "after"),), None)
    assert {"centroid_hz", "hiss_dbfs"} <= set(confound.explains)
    plucks["flags"] = [(Flag("lossy"),)] * len(plucks)
    both = _only(_run(find_processing, session, replace(measurements, plucks=plucks))[0])
    assert not both.found


def test_squeezed_peaks_with_longer_decays_are_processing() -> None:
    session, measurements = _made(Playing(decay_factor=1.5), picks=ONE_VOICE)
    plucks = measurements.plucks.copy()
    rng = np.random.default_rng(3)
    crest = np.where(plucks["stage"] == "after", 9.0, 12.0) + 0.3 * rng.standard_normal(len(plucks))
    plucks["peak_dbfs"] = plucks["level_dbfs"] + crest
    squeezed = _only(_run(find_processing, session, replace(measurements, plucks=plucks))[0])
    assert squeezed.found
    assert squeezed.estimate == pytest.approx(-3.0, abs=0.4)
    assert isinstance(squeezed.facts, ProcessingFacts)
    assert squeezed.facts.marks == ()
    assert squeezed.facts.decay_percent == pytest.approx(50.0, abs=4.0)
    # Longer decays with the same peaks are no compressor.
    plucks["peak_dbfs"] = plucks["level_dbfs"] + 12.0 + 0.3 * rng.standard_normal(len(plucks))
    assert not _only(_run(find_processing, session, replace(measurements, plucks=plucks))[0]).found


def test_hum_of_another_mix_is_another_source_and_stronger_hum_is_not() -> None:
    other = _only(_run(find_mains, *_made(Playing(hum_db=(0, 8, 0, 8, -3, 6, 0, 5, 0, 5))))[0])
    assert other.found
    assert isinstance(other.facts, MainsFacts)
    assert other.facts.frequencies_hz is None
    # The second line rose by 8 dB where the mean of the ten rose by 2.9.
    assert other.facts.moved_most_db == pytest.approx(-5.9, abs=1.0)
    assert "hum_dbfs" in other.explains
    # Lines that fall by 3 dB each hold 4.3 dB more with that added: 10 lg of the sums of powers.
    assert other.facts.total_db == pytest.approx(4.3, abs=0.7)
    assert not _only(_run(find_mains, *_made(Playing(hum_db=(6.0,) * 10)))[0]).found


def test_a_shield_and_another_source_together_cannot_be_told_apart() -> None:
    # A shield takes 10 dB off every line; the other room's lines stand otherwise to each other.
    mixed = tuple(-10.0 + x for x in (0, 8, 0, 8, -3, 6, 0, 5, 0, 5))
    findings, table = _run(find_mains, *_made(Playing(hum_db=mixed)))
    facts = _only(findings).facts
    assert isinstance(facts, MainsFacts)
    assert facts.total_db == pytest.approx(-10.0 + 4.3, abs=0.7)
    hum = table[(table["quantity"] == "hum_dbfs") & (table["verdict"] != "undecided")]
    assert set(hum["verdict"]) == {"confounded"}
    # The same shield in the same room is the work's.
    shield = _run(find_mains, *_made(Playing(hum_db=(-10.0,) * 10)))
    assert not _only(shield[0]).found
    assert "likely-audible" in set(shield[1][shield[1]["quantity"] == "hum_dbfs"]["verdict"])


def test_another_mains_frequency_is_another_place() -> None:
    session, measurements = _made(Playing())
    quiet = measurements.quiet.copy()
    quiet.loc[quiet["stage"] == "after", "mains_hz"] = 60.01
    confound = _only(_run(find_mains, session, replace(measurements, quiet=quiet))[0])
    assert confound.found
    assert isinstance(confound.facts, MainsFacts)
    assert confound.facts.frequencies_hz == (50.0, 60.0)
