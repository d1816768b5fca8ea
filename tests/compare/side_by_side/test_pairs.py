"""Which sounds and pairs there are, and when two are alike: hand-made tables."""

from __future__ import annotations

import pytest
from voices_made import Made, stage_of

from tonecompare.compare.side_by_side import VoiceSound, side_by_side_table

_DULL = (-12.0, -6.0, -5.0, -8.0, -14.0, -20.0, -30.0, -60.0)


def _moved(bands: tuple[float, ...], by_db: float, *, band: int = 4) -> tuple[float, ...]:
    return tuple(db + by_db * (n == band) for n, db in enumerate(bands))


def test_two_voices_within_every_threshold_are_alike():
    voices = stage_of(
        {
            "neck": Made(bands_db=_DULL),
            "middle": Made(bands_db=_moved(_DULL, 0.6), level_db=-20.3),
            "bridge": Made(bands_db=_moved(_DULL, 6.0), level_db=-23.0),
        }
    )
    (pair,) = voices.nearest
    assert pair.alike
    assert {pair.sound.voice, pair.against.voice} == {"neck", "middle"}
    assert {voices.farthest.sound.voice, voices.farthest.against.voice} == {"bridge", "neck"}
    # 6 dB in a band whose threshold is 1.5 dB, 3 dB in level whose threshold is 1 dB.
    assert voices.farthest.distance.value == pytest.approx(4.0, abs=0.1)
    assert voices.farthest.distance.quantity == "shape_1000_db"


@pytest.mark.parametrize(
    "other",
    [
        Made(bands_db=_moved(_DULL, 1.6)),  # one band beyond 1.5 dB
        Made(bands_db=_DULL, level_db=-21.1),  # level beyond 1 dB
        Made(bands_db=_DULL, decay_s=2.1),  # decay 30 % shorter
        Made(bands_db=_DULL, scatter_db=4.0),  # notes that scatter: nothing is shown
    ],
)
def test_one_quantity_beyond_its_threshold_or_unknown_is_enough_not_to_be_alike(other):
    voices = stage_of({"neck": Made(bands_db=_DULL), "middle": other})
    (pair,) = voices.nearest
    assert not pair.alike


def test_what_neither_voice_has_anything_of_makes_no_distance():
    # 20 dB of difference 60 dB below the whole.
    voices = stage_of(
        {
            "neck": Made(bands_db=_moved(_DULL, -20.0, band=7)),
            "middle": Made(bands_db=_DULL, level_db=-20.1),
        }
    )
    (pair,) = voices.nearest
    assert pair.alike
    assert voices.farthest is None


def test_a_piezo_that_every_take_carries_stands_once():
    voices = stage_of(
        {
            "neck": Made(level_db=-18.0),
            "neck:piezo": Made(level_db=-26.0, output="piezo"),
            "bridge": Made(level_db=-20.0),
            "bridge:piezo": Made(level_db=-26.0, output="piezo"),
        }
    )
    assert voices.sounds == (
        VoiceSound("bridge", "magnetic"), VoiceSound("neck", "magnetic"),
        VoiceSound("bridge", "piezo"),
    )  # fmt: skip
    assert voices.piezo_from == "bridge"
    # The piezo of a take stands against the magnetic output of the same take.
    (pair,) = voices.outputs
    assert (pair.against, pair.sound) == (
        VoiceSound("bridge", "magnetic"), VoiceSound("bridge", "piezo"),
    )  # fmt: skip
    assert pair.cells["level_dbfs"].difference == pytest.approx(-6.0, abs=0.05)


def test_a_blend_stands_against_its_own_pickup_and_the_piezo():
    voices = stage_of(
        {
            "neck": Made(level_db=-17.0),
            "bridge": Made(level_db=-20.0),
            "piezo": Made(level_db=-25.0),
            "bridge-and-piezo": Made(level_db=-19.0),
        }
    )
    assert [(p.against.voice, p.sound.voice) for p in voices.outputs] == [
        ("neck", "piezo"), ("bridge", "bridge-and-piezo"), ("piezo", "bridge-and-piezo"),
    ]  # fmt: skip
    assert [(p.against.voice, p.sound.voice) for p in voices.neighbours] == [("bridge", "neck")]


def test_repeats_and_references_are_no_voices():
    voices = stage_of(
        {"neck": Made(), "neck-again": Made(), "bridge": Made(), "acoustic": Made(level_db=-3.0)}
    )
    assert [one.voice for one in voices.sounds] == ["bridge", "neck"]


def test_the_table_has_each_pair_once():
    voices = stage_of({"neck": Made(level_db=-18.0), "neck-split": Made(level_db=-24.0)})
    table = side_by_side_table([voices])
    keys = ["stage", "voice", "output", "against_voice", "against_output", "quantity"]
    assert not table.duplicated(keys).any()
    (level,) = table[table["quantity"] == "level_dbfs"].to_dict("records")
    assert (level["voice"], level["against_voice"]) == ("neck-split", "neck")
    assert level["difference"] == pytest.approx(-6.0, abs=0.05)
    assert (level["unit"], level["n_notes"], level["hearing_threshold"]) == ("dB", 6, 1.0)
