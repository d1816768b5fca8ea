"""The table of measurements: never changed, one row per number, the same numbers in its frames."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import numpy as np
import pandas as pd
import pytest

from tonecompare.measure.flags import Flag, unmeasured_flag, words
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.table import MeasuredSubject, MeasurementTable, Subject
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET, VOICES

PLUCK = MeasuredSubject(
    Subject("plucks", "s", "neck", "magnetic", "neck.wav", 1, pluck=2, note="A2", string=5),
    {
        "ring_s": Measured(3.0, "s"),
        "level_dbfs": Measured(-20.0, "dBFS", 0.1, (0.05, 0.55), "mean square"),
        "snr_db": unmeasured("dB", "no quiet was found"),
    },
    (Flag("damped"), unmeasured_flag("no quiet was found", "snr_db")),
)
BOTH = MeasuredSubject(
    Subject("blend", "s", "neck", note="all"),
    {"delay_us": Measured(12.0, "µs", 0.5), "polarity": Measured(-1, "")},
)
TABLE = MeasurementTable((PLUCK, BOTH))


def test_joining_makes_a_new_entry_and_leaves_the_old_one() -> None:
    level = Measured(-21.0, "dBFS", 0.3)
    more = PLUCK.joined({"level_dbfs": level, "strength_db": Measured(1.5, "dB")}, words("damped"))
    assert (more.value("level_dbfs"), more.value("strength_db")) == (-21.0, 1.5)
    assert more.flags == PLUCK.flags
    assert (PLUCK.value("level_dbfs"), PLUCK.value("strength_db")) == (-20.0, None)
    with pytest.raises(FrozenInstanceError):
        PLUCK.flags = ()  # type: ignore[misc]


def test_an_uncertainty_of_nothing_known_is_no_uncertainty() -> None:
    numbers = {
        "cents": Measured(1.0, "cents", 0.0),
        "f0_hz": Measured(None, "Hz", 0.2, reason="no pitch was found"),
        "decay_s": Measured(4.0, "s", 0.1),
    }
    entry = MeasuredSubject(PLUCK.subject, numbers)
    assert [entry.uncertainty(name) for name in numbers] == [None, None, 0.1]
    assert entry.uncertainty("attack_ms") is None


def test_a_row_holds_all_that_belongs_to_its_number() -> None:
    rows = TABLE.rows()
    assert [row.quantity for row in rows] == [
        "ring_s", "level_dbfs", "snr_db", "delay_us", "polarity",
    ]  # fmt: skip
    level, snr = rows[1], rows[2]
    assert (level.stage, level.voice, level.output, level.file) == (
        "s", "neck", "magnetic", "neck.wav",
    )  # fmt: skip
    assert (level.channel, level.pluck, level.quiet, level.note) == (1, 2, None, "A2")
    assert (level.value, level.uncertainty, level.unit) == (-20.0, 0.1, "dBFS")
    assert (level.window_s, level.method, level.reason) == ((0.05, 0.55), "mean square", "")
    assert (snr.value, snr.reason) == (None, "no quiet was found")
    assert snr.flags == PLUCK.flags


def test_the_long_frame_holds_the_same_with_flags_as_text() -> None:
    frame = TABLE.long_frame()
    assert list(frame["quantity"]) == [row.quantity for row in TABLE.rows()]
    assert frame["flags"][1] == "damped; snr_db: no quiet was found"
    assert frame["pluck"].tolist()[:3] == [2, 2, 2]
    assert frame["pluck"].isna().tolist() == [False, False, False, True, True]
    assert len(MeasurementTable().long_frame()) == 0


def test_a_frame_has_the_columns_of_its_file_and_uncertainties_beside() -> None:
    frame = TABLE.to_frame("plucks")
    assert list(frame.columns) == [*MEASUREMENTS, "level_dbfs_se", "snr_db_se"]
    row = frame.iloc[0]
    assert (row["level_dbfs"], row["level_dbfs_se"], row["string"]) == (-20.0, 0.1, 5)
    assert np.isnan(row["snr_db"])
    assert row["flags"] == PLUCK.flags
    # Where a note ends is a decision (meanings.py): no column for its error, nor for a count's.
    assert "ring_s_se" not in frame.columns
    both = TABLE.to_frame("blend")
    assert list(both.columns) == list(BLEND)
    assert (both["delay_se_us"][0], both["polarity"][0]) == (0.5, -1)


@pytest.mark.parametrize(
    ("kind", "columns"),
    [("plucks", MEASUREMENTS), ("quiet", QUIET), ("blend", BLEND), ("voices", VOICES)],
)
def test_a_frame_of_nothing_still_has_its_columns(kind: str, columns: tuple[str, ...]) -> None:
    frame = MeasurementTable().to_frame(kind)
    assert isinstance(frame, pd.DataFrame)
    assert list(frame.columns) == list(columns)
    assert len(frame) == 0
