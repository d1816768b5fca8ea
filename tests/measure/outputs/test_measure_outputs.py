"""All of a two-channel recording: rows of blend.csv, first over all notes, then note by note."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from two_outputs import Wiring, open_strings

from tonecompare.errors import InputError
from tonecompare.measure.outputs import measure_outputs
from tonecompare.measure.outputs.measure_outputs import BlendResult, measure_blend
from tonecompare.measure.outputs.results import BlendPair, DelayFit
from tonecompare.measure.outputs.third_octaves import mean_by_note
from tonecompare.measure.table import MeasuredSubject
from tonecompare.quantities.columns import BLEND

WIRED = Wiring(delay_s=400e-6, polarity=-1, low_pass_hz=4861.0, high_pass_hz=60.0, piezo_gain=0.5)


@pytest.fixture(scope="module")
def pairs() -> list[BlendPair]:
    return open_strings(
        WIRED, rng=np.random.default_rng(1), strings=(6, 4, 2), repeats=2, length_s=0.6,
        snr_db=60.0,
    )  # fmt: skip


@pytest.fixture(scope="module")
def result(pairs: list[BlendPair]) -> BlendResult:
    return measure_blend(pairs)


def test_a_row_for_all_and_one_for_each_note(result: BlendResult) -> None:
    assert [row.subject.note for row in result.rows] == ["all", "E2", "D3", "B3"]
    for row in map(MeasuredSubject.cells, result.rows):
        assert set(BLEND) - {"stage", "voice"} <= set(row)


def test_rows_hold_what_was_put_in(pairs: list[BlendPair], result: BlendResult) -> None:
    for row in map(MeasuredSubject.cells, result.rows):
        assert row["delay_us"] == pytest.approx(400.0, abs=6.0)
        assert row["polarity"] == -1
        assert row["flags"] == ()
        # Two outputs of one string predict each other (noise 60 dB down).
        assert row["coherence"] > 0.95
    window = slice(3360, 27360)  # 0.05-0.55 s after the onset at 960
    levels = [
        20 * np.log10(np.std(pair.piezo[window]) / np.std(pair.magnetic[window])) for pair in pairs
    ]  # fmt: skip
    by_note = np.mean(np.reshape(levels, (3, 2)), axis=1)
    assert [row.value("level_difference_db") for row in result.rows[1:]] == pytest.approx(
        list(by_note), abs=0.01
    )
    assert result.rows[0].value("level_difference_db") == pytest.approx(np.mean(by_note), abs=0.01)


def test_all_weighs_notes_equally(pairs: list[BlendPair], result: BlendResult) -> None:
    # Plucks within a note are repeats: a note played more often counts no more.
    more = measure_blend([*pairs, pairs[0], pairs[1]])
    for name in ("level_difference_db", "transient_magnetic_db", "transient_piezo_db"):
        assert more.rows[0].value(name) == pytest.approx(result.rows[0].value(name))


def test_what_cannot_be_told_is_empty_and_flagged(pairs: list[BlendPair]) -> None:
    rng = np.random.default_rng(2)
    noise = [replace(pair, piezo=1e-4 * rng.standard_normal(pair.piezo.size)) for pair in pairs[:2]]
    row = measure_blend(noise).rows[0].cells()
    assert row["delay_us"] is None
    assert row["polarity"] is None
    # Apart by "; " as in every other table.
    flags = [flag.code for flag in row["flags"]]
    assert flags[:2] == ["polarity-not-determinable", "delay-not-determinable"]


@pytest.mark.parametrize("own", [(0.729053, 1e-6), (4e-4, 0.01)])
def test_a_delay_of_one_note_beyond_all_that_is_looked_for_is_not_told(
    pairs: list[BlendPair], monkeypatch: pytest.MonkeyPatch, own: tuple[float, float]
) -> None:
    names = {pair.note: pair.string_name for pair in pairs}
    of_notes = {names["E2"]: own, names["D3"]: (4e-4, 1e-6)}
    fitted = DelayFit(4e-4, 1e-6, -1, 3, by_note_s=of_notes)
    monkeypatch.setattr(measure_outputs, "fit_delay", lambda *_args, **_kwargs: fitted)
    rows = {row.subject.note: row.cells() for row in measure_blend(pairs).rows}
    assert rows["E2"]["delay_us"] is None
    assert rows["E2"]["flags"][0].code == "delay-not-determinable"
    assert rows["D3"]["delay_us"] == pytest.approx(400.0)
    assert rows["all"]["delay_us"] == pytest.approx(400.0)


def test_a_note_too_short_for_bands_is_said(pairs: list[BlendPair]) -> None:
    short = [
        replace(pair, magnetic=pair.magnetic[:5000], piezo=pair.piezo[:5000]) for pair in pairs
    ]
    result = measure_blend(short)
    assert result.by_note == {}
    assert result.rows[0].value("transient_piezo_db") is None
    assert result.advice.fuller_polarity is None
    assert np.isnan(result.map.interaction_db).all()


def test_nothing_to_measure_is_an_error() -> None:
    with pytest.raises(InputError, match="no pluck on two outputs"):
        measure_blend([])


def test_mean_power_by_note_leaves_gaps_out() -> None:
    found = mean_by_note({"E2": [np.array([1.0, np.nan, np.nan]), np.array([3.0, 5.0, np.nan])]})
    assert found["E2"] == pytest.approx([2.0, 5.0, np.nan], nan_ok=True)
