"""Bench signs on tables made here; expected numbers follow from how the tables are made."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.bench.dead_spots import find_dead_spots
from tonecompare.compare.bench.signs import bench_signs
from tonecompare.measure.flags import BURSTS, TONE, Flag, unmeasured_flag
from tonecompare.measure.model import Measurements
from tonecompare.quantities.columns import MEASUREMENTS, QUIET
from tonecompare.quantities.quiet_and_voice_entries import HUM_LINES
from tonecompare.session.model import Session, Stage, Voice
from tonecompare.session.note_names import note_name, note_number


def _plucks(rows: list[dict[str, object]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows).reindex(columns=list(MEASUREMENTS))
    frame["string"] = frame["string"].astype("Int64")
    frame["flags"] = [()] * len(frame)
    return frame


def _scale(*, dead: str | None, share: float, seed: int = 3) -> pd.DataFrame:
    """One string's notes: T60 falling from 8 s by 4 % a fret, 4 % scatter, one note shortened."""
    rng = np.random.default_rng(seed)
    rows = []
    for fret in range(13):
        note = note_name(note_number("D3") + fret)
        for pluck in range(3):
            decay = 8.0 * 0.96**fret * np.exp(0.04 * rng.standard_normal())
            rows.append({
                "stage": "wren", "voice": "neck", "output": "magnetic", "file": "neck.wav",
                "channel": 1, "pluck": pluck, "note": note, "string": 4, "level_dbfs": -20.0,
                "decay_s": decay * (share if note == dead else 1.0),
            })  # fmt: skip
    return _plucks(rows)


def _quiet(stage: str, voice: str, hum: float, lines: list[float]) -> dict[str, object]:
    row: dict[str, object] = {
        "stage": stage, "voice": voice, "output": "magnetic", "file": f"{voice}.wav", "channel": 1,
        "start_s": 0.0, "length_s": 10.0, "hum_dbfs": hum, "hum_dbfs_se": 0.05, "flags": (),
    }  # fmt: skip
    for name, value in zip(HUM_LINES, lines, strict=False):
        row[name], row[f"{name}_se"] = value, 0.05
    return row


def _session(**voices: Voice) -> Session:
    return Session("t", Path(), {"wren": Stage("wren", "wren", Path())}, (), voices=voices)


def _signs(
    session: Session, *, plucks: pd.DataFrame | None = None, quiet: list[dict[str, object]] = ()
) -> list[tuple[str, str, float | None, tuple[object, ...]]]:
    frame = pd.DataFrame(list(quiet))
    columns = [*QUIET, *(name for name in frame.columns if name not in QUIET)]
    measurements = Measurements(
        plucks=_plucks([]) if plucks is None else plucks,
        quiet=frame.reindex(columns=columns),
        blend=pd.DataFrame(),
    )
    return [(s.kind, s.where, s.value, s.data) for s in bench_signs(session, measurements)]


def test_a_note_that_rings_half_as_long_as_its_neighbours_is_named() -> None:
    (spot,) = find_dead_spots(_scale(dead="F#3", share=0.5))
    assert (spot.note, spot.string, spot.n_plucks, spot.n_others) == ("F#3", 4, 3, 12)
    # By construction: half of 8 s · 0.96⁴; the scatter of three takes is 4 % / sqrt 3 each.
    assert spot.decay_s == pytest.approx(4.0 * 0.96**4, rel=0.08)
    assert spot.expected_s == pytest.approx(8.0 * 0.96**4, rel=0.08)


def test_an_even_scale_and_a_slightly_short_note_name_no_dead_spot() -> None:
    for seed in range(20):
        assert find_dead_spots(_scale(dead=None, share=1.0, seed=seed)) == []
        # 0.85 of the expected decay lies inside what listeners let pass (0.75).
        assert find_dead_spots(_scale(dead="F#3", share=0.85, seed=seed)) == []


def test_too_few_notes_draw_no_line() -> None:
    few = _scale(dead="F#3", share=0.3)
    assert find_dead_spots(few[few["note"].isin(["D3", "E3", "F#3", "G3"])]) == []


def test_a_soft_string_is_named_and_an_even_set_is_not() -> None:
    levels = {6: -20.0, 5: -20.4, 4: -19.8, 3: -26.0, 2: -20.2, 1: -20.1}
    rows = [
        {"stage": "wren", "voice": "piezo", "output": "piezo", "note": "A2", "string": string,
         "level_dbfs": level + step, "decay_s": np.nan}
        for string, level in levels.items() for step in (-0.3, 0.0, 0.3)
    ]  # fmt: skip
    ((kind, where, value, data),) = _signs(_session(), plucks=_plucks(rows))
    # By hand: median slope of the others' pairs -0.0233 dB a string, -20.147 dB on it at string 3.
    assert (kind, where) == ("string-balance", "string 3")
    assert value == pytest.approx(-5.853, abs=1e-3)
    assert data == (3, 3)
    even = [row | {"level_dbfs": -20.0} for row in rows if row["string"] != 3]
    assert _signs(_session(), plucks=_plucks(even)) == []


def test_hands_on_the_strings_are_compared_with_hands_off() -> None:
    quiet = [
        _quiet("wren", "neck-hands-on", -60.0, []),
        _quiet("wren", "neck-hands-off", -66.0, []),
    ]
    ((kind, _, value, data),) = _signs(_session(), quiet=quiet)
    assert kind == "hands"
    assert value == pytest.approx(6.0)
    assert data == ("",)
    quiet[0]["hum_dbfs"] = -69.0
    ((_, _, value, _),) = _signs(_session(), quiet=quiet)
    assert value == pytest.approx(-3.0)


def test_coil_mismatch_is_worked_out_where_a_split_and_a_whole_pickup_were_recorded() -> None:
    voices = {
        "bridge": Voice("bridge", pickups=("bridge",)),
        "bridge-split": Voice("bridge-split", pickups=("bridge",), split=True),
        "neck": Voice("neck", pickups=("neck",)),
    }
    # Residual re one coil of -26.02 dB is |a - b|/a = 5 % (closed form 20 lg 0.05).
    one = [-50.0, -70.0, -60.0]
    whole = [level - 26.0206 for level in one]
    quiet = [
        _quiet("wren", "bridge", -76.0, whole),
        _quiet("wren", "bridge-split", -49.6, one),
        _quiet("wren", "neck", -70.0, one),
    ]
    ((kind, where, value, data),) = _signs(_session(**voices), quiet=quiet)
    assert (kind, where) == ("coil-mismatch", "bridge-split")
    assert value == pytest.approx(5.0, abs=0.05)
    assert data == (pytest.approx(-26.02, abs=0.01), "")


def test_many_tones_are_named_from_low_to_high_those_of_one_source_once() -> None:
    tones = [1523, 1524, 114, 2066, 41, 508, 689, 9001, 234]
    row = _quiet("wren", "neck", -60.0, []) | {"flags": tuple(Flag(TONE, (t,)) for t in tones)}
    (sign,) = _signs(_session(), quiet=[row])
    assert sign[3] == ("tones", (41, 114, 234, 508, 689, 1523, 2066, 9001))


def test_interference_is_named_from_the_flags() -> None:
    row = _quiet("wren", "neck", -60.0, []) | {
        "flags": (Flag(TONE, (15625,)), Flag(BURSTS), unmeasured_flag("x", "hum_10_dbfs"))
    }
    signs = _signs(_session(), quiet=[row])
    assert [sign[0] for sign in signs] == ["interference", "interference"]
    assert [sign[3] for sign in signs] == [("tones", (15625,)), ("bursts",)]
