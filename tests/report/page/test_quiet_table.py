"""The table of the quiet: medians over the stretches, and why a cell is empty."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.measure.flags import TONE, Flag, unmeasured_flag
from tonecompare.quantities.columns import QUIET
from tonecompare.report.page.quiet_table import COLUMNS, quiet_rows


def _quiet(*stretches: dict[str, object]) -> pd.DataFrame:
    of = {"stage": "stock", "voice": "neck", "output": "magnetic", "flags": (), "length_s": 2.0}
    frame = pd.DataFrame([of | stretch for stretch in stretches])
    return frame.reindex(columns=list(QUIET))


def _cell(frame: pd.DataFrame, column: str) -> str:
    (row,) = quiet_rows(frame)
    return row.cells[[name for name, _, _ in COLUMNS].index(column)]


def test_the_middle_of_the_stretches() -> None:
    frame = _quiet({"hum_dbfs": -80.0}, {"hum_dbfs": -90.0}, {"hum_dbfs": -81.0})
    assert _cell(frame, "hum_dbfs") == "−81.0 dBFS"
    assert quiet_rows(frame)[0].stretches == "3 stretches, 6.0 s"


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("buzz_dbfs", "not measured (below the floor of −82 dBFS)"),
        ("hum_dbfs", "not measured (no mains family stands above the floor)"),
        ("hiss_dbfs", "not measured"),
    ],
)
def test_an_empty_cell_gives_its_own_reason_only(column: str, said: str) -> None:
    flags = (
        Flag(TONE, (2687,)),
        unmeasured_flag("no mains family stands above the floor", "hum_dbfs", "hum_10_dbfs"),
        unmeasured_flag("below the floor of -82 dBFS", "buzz_dbfs"),
    )
    frame = _quiet(
        {"flags": (unmeasured_flag("below the floor of -79 dBFS", "buzz_dbfs"),), "length_s": 0.3},
        {"flags": flags, "length_s": 2.0},
    )
    assert _cell(frame, column) == said


def test_flags_without_reasons_stand_for_all() -> None:
    assert _cell(_quiet({"flags": (Flag("short"),), "hum_dbfs": np.nan}), "hum_dbfs") == (
        "not measured (short)"
    )
