"""Every cell of a seven-voice guitar's table against the truth of the string model."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tonecompare as tc
from tests.helpers.seven_voices import MISMATCH, VOICES, true_difference, write_guitar
from tonecompare.compare.bench.signs import bench_signs
from tonecompare.compare.planned import with_voice_pairs
from tonecompare.compare.side_by_side import VoiceSound, side_by_side
from tonecompare.quantities.compared import quantity_of
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.session.given import session_of_given

#: How far a measured difference may lie from the truth of the same plucks, in the unit's scale:
#: dB; natural logarithm for ratios.
#: The true centroid is that of lines, the measured one weighs their skirts too.
CLOSE = {"level_dbfs": 0.15, "centroid_hz": 0.08, "decay_s": 0.06}
CLOSE_BAND_DB = 0.4


@pytest.fixture(scope="module")
def guitar(tmp_path_factory):
    folder = tmp_path_factory.mktemp("seven") / "heron"
    truths = write_guitar(folder)
    session = session_of_given([folder])
    measured = tc.measure_session(session)
    (voices,) = side_by_side(session, measured)
    return truths, voices, session, measured


def _scale(quantity: str, value: float) -> float:
    return math.log1p(value / 100.0) if quantity_of(quantity).ratio else value


def test_all_seven_stand_in_the_order_of_the_selector(guitar):
    _, voices, _, _ = guitar
    assert [one.voice for one in voices.sounds] == [
        "bridge", "bridge-split", "both", "both-split", "neck", "neck-split", "piezo",
    ]  # fmt: skip


def test_the_loudest_is_the_truly_loudest(guitar):
    truths, voices, _, _ = guitar
    level = {
        name: np.mean([note["level_dbfs"] for note in truths[name].by_note.values()])
        for name in VOICES
    }
    assert voices.loudest.voice == max(level, key=lambda name: level[name])


def test_every_cell_against_the_loudest_has_its_truth(guitar):
    truths, voices, _, _ = guitar
    assert len(voices.against_loudest) == 6
    off = []
    for pair in voices.against_loudest:
        for name, cell in pair.cells.items():
            if name not in CLOSE and name not in (*BAND_SHAPES, *BAND_LEVELS):
                continue
            truth = true_difference(truths, pair.against.voice, pair.sound.voice, name)
            if (
                pair.cells.get(name.replace("band", "shape"), cell).weak
                or not math.isfinite(truth)
                or cell.difference is None
            ):
                continue
            error = _scale(name, cell.difference) - truth
            if abs(error) > CLOSE.get(name, CLOSE_BAND_DB):
                off.append((pair.sound.voice, name, round(error, 3)))
            assert cell.n_notes == 4 or name not in ("level_dbfs", "centroid_hz", "decay_s")
            assert cell.n_notes < 2 or cell.weak or cell.ci_low < cell.difference < cell.ci_high
    assert off == [], str(off)


def test_hum_of_every_voice_has_its_truth(guitar):
    truths, voices, _, _ = guitar
    for pair in voices.against_loudest:
        truth = truths[pair.sound.voice].hum_dbfs - truths[pair.against.voice].hum_dbfs
        cell = pair.cells["hum_dbfs"]
        assert cell.difference == pytest.approx(truth, abs=0.5), pair.sound
        assert cell.ci_low < truth < cell.ci_high, pair.sound
        signal = pair.cells["signal_to_hum_db"]
        level = true_difference(truths, pair.against.voice, pair.sound.voice, "level_dbfs")
        assert signal.difference == pytest.approx(level - truth, abs=0.6), pair.sound


def test_each_split_stands_against_its_whole(guitar):
    _, voices, _, _ = guitar
    assert [(p.against.voice, p.sound.voice) for p in voices.splits] == [
        ("bridge", "bridge-split"), ("both", "both-split"), ("neck", "neck-split"),
    ]  # fmt: skip
    for pair in voices.splits:
        if pair.against.voice == "both":
            continue
        # One coil hums with b, both leave |a − b| (closed form, coils' L and R halved aside).
        mismatch = MISMATCH[pair.against.voice]
        left_db = 20 * math.log10(mismatch / (1 - mismatch / 2))
        assert pair.cells["hum_dbfs"].difference == pytest.approx(-left_db, abs=1.0)


def test_neighbours_are_of_one_kind(guitar):
    _, voices, _, _ = guitar
    assert [(p.against.voice, p.sound.voice) for p in voices.neighbours] == [
        ("bridge", "both"), ("both", "neck"),
        ("bridge-split", "both-split"), ("both-split", "neck-split"),
    ]  # fmt: skip


def test_a_piezo_of_its_own_recording_stands_against_a_magnetic_voice(guitar):
    _, voices, _, _ = guitar
    (pair,) = voices.outputs
    assert pair.sound.voice == "piezo"
    assert pair.against == voices.loudest


def test_farthest_is_the_pair_that_truly_lies_farthest_apart(guitar):
    truths, voices, _, _ = guitar
    from tonecompare.compare.thresholds import THRESHOLDS

    def distance(one: str, other: str) -> float:
        sizes = [abs(true_difference(truths, one, other, "level_dbfs"))
                 / THRESHOLDS["level"].above]  # fmt: skip
        for name in BAND_SHAPES:
            means = [np.mean([n[name] for n in truths[v].by_note.values()]) for v in (one, other)]
            if max(means) > -50.0:
                size = abs(true_difference(truths, one, other, name))
                sizes.append(size / THRESHOLDS["shape"].above)
        return max(size for size in sizes if math.isfinite(size))

    pair = voices.farthest
    truth = distance(pair.against.voice, pair.sound.voice)
    assert pair.distance.ci_low <= truth <= pair.distance.ci_high
    every = {(a, b): distance(a, b) for a in VOICES for b in VOICES if a < b}
    assert truth >= 0.6 * max(every.values())
    (near,) = voices.nearest
    assert distance(near.against.voice, near.sound.voice) <= 1.3 * min(every.values())


def test_intervals_against_the_loudest_are_wider_than_of_one_pair(guitar):
    _, voices, _, _ = guitar
    of_split = next(p for p in voices.splits if p.against == voices.loudest)
    same = next(p for p in voices.against_loudest if p.sound == of_split.sound)
    one, all_six = (p.cells["level_dbfs"] for p in (of_split, same))
    assert one.difference == pytest.approx(all_six.difference)
    # t of 3 degrees of freedom at 1 − 0.05/2 and at 1 − 0.05/12 (tables: 3.182 and 5.841 at .995).
    ratio = (all_six.ci_high - all_six.ci_low) / (one.ci_high - one.ci_low)
    assert ratio == pytest.approx(6.232 / 3.182, rel=0.01)


def test_values_stand_in_their_own_units(guitar):
    truths, voices, _, _ = guitar
    piezo = VoiceSound("piezo", voices.sounds[-1].output)
    values = truths["piezo"].by_note.values()
    decay = math.exp(np.mean([one["decay_s"] for one in values]))
    assert voices.values[piezo, "decay_s"] == pytest.approx(decay, rel=0.06)
    level = np.mean([one["level_dbfs"] for one in values])
    assert voices.values[piezo, "level_dbfs"] == pytest.approx(level, abs=0.1)


def test_coils_differ_by_what_they_were_made_with_also_without_a_session_file(guitar):
    _, _, session, measured = guitar
    signs = {
        sign.voice: sign
        for sign in bench_signs(session, measured)
        if sign.kind == "coil-mismatch" and sign.value is not None
    }
    # The split of two pickups together says nothing of the coils of either.
    assert set(signs) == set(MISMATCH)
    for name, sign in signs.items():
        # |a − b|/b of the far coil that was left on (closed form), in a loaded circuit.
        truth = 100 * MISMATCH[name] / (1 - MISMATCH[name] / 2)
        assert sign.value == pytest.approx(truth, rel=0.12), name


def test_a_report_compares_with_the_loudest_the_whole_and_the_neighbour(guitar):
    _, _, session, measured = guitar
    pairs = {
        tuple(side.voice for side in spec.sides)
        for spec in with_voice_pairs(session, measured).comparisons
    }
    assert pairs == {
        *(("neck", name) for name in VOICES if name != "neck"),
        ("bridge", "bridge-split"), ("both", "both-split"), ("bridge", "both"),
    }  # fmt: skip
