"""Two voices of one guitar, from files whose truth is known to the sentence that tells it.

Truth is the string model's own: one string and pick, the same plucks through two pickups. Neither
the level nor the hum that is held against is worked out by what is tested.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

import tonecompare as tc
from tonecompare import strings as st
from tonecompare.cli import main
from tonecompare.compare.cause_facts import PlaceFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.find_causes import told_of_voices
from tonecompare.compare.model import Confound
from tonecompare.strings.instruments import humbucker, split_coil, standard_instrument
from tonecompare.strings.noise import coil_line_dbfs
from tonecompare.strings.player import plucks_in_turn

#: |a − b| over the mean of the two coils: what is left of the hum is 20 lg(|a − b|/(a + b)).
MISMATCH = 0.08
QUIET_S, SPACING_S = 2.0, 1.6
_FIELD_DBFS = (-55.0, -80.0, -62.0)
#: Words that speak of a change made to a guitar; between voices there is none.
_OF_WORK = ("work", "before", " after", "stage", "confounded", "unchanged")


def _record(path: Path, pickup: st.Magnetic, *, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    plucks = plucks_in_turn(
        [(6, 0), (5, 0), (4, 0)],
        start_s=QUIET_S, spacing_s=SPACING_S, repeats=3, damp_before_s=0.1,
    )  # fmt: skip
    hum = coil_line_dbfs(pickup, _FIELD_DBFS, mains_hz=50.0)
    take = st.render_recording(
        standard_instrument(),
        st.VoiceSpec(path.stem, (st.Channel("magnetic", pickup),)),
        plucks,
        rng=rng,
        rate_hz=44100.0,
        length_s=QUIET_S + 9 * SPACING_S,
        noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=tuple(hum), hiss_dbfs=-85.0),
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    take.write(path)
    return take.samples[0]


@pytest.fixture(scope="module")
def guitar(tmp_path_factory) -> tuple[Path, dict[str, np.ndarray]]:
    """Return a folder with three voices of one guitar, and their samples."""
    folder = tmp_path_factory.mktemp("heron") / "heron"
    bridge = humbucker(45.0, mismatch=MISMATCH)
    voices = {
        "bridge": bridge,
        "bridge-split": split_coil(bridge, coil="far"),
        "neck": humbucker(158.0, sensitivity=0.3, mismatch=MISMATCH),
    }
    return folder, {
        name: _record(folder / f"{name}.wav", pickup, seed=place)
        for place, (name, pickup) in enumerate(voices.items())
    }


@pytest.fixture(scope="module")
def compared(guitar):
    """Return what a report of that folder's parent makes of its three voices."""
    return tc.report(guitar[0].parent)


def _row(compared, before: str, after: str, quantity: str):
    rows = compared.differences.query("note == 'all' and quantity == @quantity")
    rows = rows[(rows["before"] == f"heron/{before}") & (rows["after"] == f"heron/{after}")]
    (row,) = rows.to_dict("records")
    return row


def _level_db(samples: np.ndarray) -> float:
    """RMS of 0.05–0.55 s after each start, in dB, the mean over notes and repeats."""
    starts = QUIET_S + SPACING_S * np.arange(9)
    parts = [samples[round((t + 0.05) * 44100) : round((t + 0.55) * 44100)] for t in starts]
    return float(np.mean([10 * np.log10(np.mean(part**2)) for part in parts]))


def test_split_against_full_has_the_level_and_hum_of_its_truth(guitar, compared):
    sounds = guitar[1]
    level = _row(compared, "bridge", "bridge-split", "level_dbfs")
    truth_db = _level_db(sounds["bridge-split"]) - _level_db(sounds["bridge"])
    assert level["difference"] == pytest.approx(truth_db, abs=0.3)
    assert (level["voice"], level["verdict"]) == ("bridge-split", "likely-audible")
    # One coil hums with b; two in series leave |a − b| (check values: 20 lg(|a−b|/(a+b)) re both).
    hum = _row(compared, "bridge", "bridge-split", "hum_dbfs")
    b = 1 - MISMATCH / 2
    assert hum["difference"] == pytest.approx(20 * math.log10(b / MISMATCH), abs=1.5)


def test_every_voice_meets_the_loudest_and_its_neighbour(guitar, compared):
    loudest = max(guitar[1], key=lambda name: _level_db(guitar[1][name]))
    assert loudest == "neck"
    pairs = {(spec.before, spec.after) for spec in compared.session.comparisons}
    assert pairs == {
        ("heron/bridge", "heron/bridge-split"),
        ("heron/neck", "heron/bridge"),
        ("heron/neck", "heron/bridge-split"),
    }


def test_nothing_of_two_sittings_is_asked(compared):
    asked = {one.kind for one in compared.comparisons.confounds}
    assert asked <= {"pick-position", "pick-strength", "quiet"}


def test_each_pair_of_voices_that_differs_has_its_own_sentence(compared):
    """What the other pick moved took the place of what the split does, once."""
    changed = {one.comparison for one in compared.findings if one.kind == "change"}
    assert changed == {spec.name for spec in compared.session.comparisons}


def test_a_whole_quantity_comes_before_a_single_partial(compared):
    for one in compared.findings:
        if one.kind == "change" and "partial" in one.text and "dB louder" in one.text:
            assert one.text.index("dB louder") < one.text.index("partial")


def test_how_the_whole_sound_dies_away_is_the_voices_own():
    """A pick and a pickup elsewhere change the mix of partials alike; the pickup is the voice."""
    place = Confound(
        "a/bridge to a/neck", "neck", "pick-position", True, 0.02, "", 0.01, 0.03, 0.001,
        ("decay_s", "attack_ms"), PlaceFacts(None, None),
    )  # fmt: skip
    stage = replace(place, comparison="a to b")
    told = told_of_voices(ConfoundFindings((place, stage)), {"a/bridge to a/neck": "bridge"})
    assert [one.explains for one in told.confounds] == [("attack_ms",), ("decay_s", "attack_ms")]
    assert told.confounds[0].against == "bridge"


def test_no_sentence_between_voices_speaks_of_work(compared):
    texts = [finding.text for finding in compared.findings]
    texts += [reason for reason in compared.differences["reason"] if isinstance(reason, str)]
    assert any("Bridge (split) against Bridge: " in text for text in texts)
    assert {word for text in texts for word in _OF_WORK if word in text} == set()


def test_two_files_are_two_sounds(guitar, tmp_path):
    files = [str(guitar[0] / f"{name}.wav") for name in ("bridge", "bridge-split")]
    told = CliRunner().invoke(
        main, ["compare", *files, "--no-clips", "--workers", "1", "--out", str(tmp_path / "out")]
    )
    assert told.exit_code == 0, told.output
    assert "* Bridge (split) against Bridge: " in told.output
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "Bridge (split) minus Bridge" in page


def test_one_folder_is_a_guitar_whose_voices_stand_side_by_side(guitar, tmp_path):
    told = CliRunner().invoke(
        main,
        ["compare", str(guitar[0]), "--no-clips", "--workers", "1", "--out", str(tmp_path / "out")],
    )
    assert told.exit_code == 0, told.output
    assert "Neck is the loudest and Bridge (split) the softest" in told.output
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    places = [page.index(text) for text in ('id="voices"', 'id="matrix"')]
    assert places == sorted(places)
    table = pd.read_csv(tmp_path / "out" / "side_by_side.csv").set_index(
        ["voice", "against_voice", "quantity"]
    )
    level = table.loc["bridge-split", "bridge", "level_dbfs"]
    sounds = guitar[1]
    truth_db = _level_db(sounds["bridge-split"]) - _level_db(sounds["bridge"])
    assert level["difference"] == pytest.approx(truth_db, abs=0.3)
    assert level["ci_low"] < truth_db < level["ci_high"]


def test_a_stage_against_a_stage_is_left_alone(guitar, compared):
    """Rows of the sides are the sides' only: what was measured stands as it was recorded."""
    assert set(compared.measurements.plucks["stage"]) == {"heron"}
