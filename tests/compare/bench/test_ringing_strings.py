"""Strings that ring along, named at the bench: tables made here, expected by how they are made."""

from __future__ import annotations

import pandas as pd
import pytest

from tonecompare.compare.bench.ringing_strings import loud_strings


def table(*rows: tuple[str, str, int, float | None, int | None]) -> pd.DataFrame:
    """Return plucks of one voice from (output, note, pluck, level, string)."""
    frame = pd.DataFrame(
        rows, columns=["output", "note", "pluck", "ring_along_db", "ring_along_string"]
    ).assign(stage="wren", voice="neck", file="neck.wav")
    frame["ring_along_db"] = frame["ring_along_db"].astype(float)
    frame["ring_along_string"] = frame["ring_along_string"].astype("Int64")
    return frame


def test_loud_string_is_named_with_its_level_and_what_to_do() -> None:
    rows = [("magnetic", "E2", n, level, 5) for n, level in enumerate((-17.0, -18.0, -20.0), 1)]
    (found,) = loud_strings(table(*rows))
    assert (found.string, found.notes, found.n_plucks) == (5, ("E2",), 3)
    assert found.level_db == pytest.approx(-18.0)


def test_what_is_weaker_than_minus_25_db_or_absent_is_not_named() -> None:
    rows = [("magnetic", "E2", 1, -25.5, 5), ("magnetic", "E2", 2, None, None)]
    assert list(loud_strings(table(*rows))) == []


def test_one_pluck_of_three_is_not_the_guitar() -> None:
    rows = [("magnetic", "E2", 1, -15.0, 5), ("magnetic", "E2", 2, -50.0, 5),
            ("magnetic", "E2", 3, None, None)]  # fmt: skip
    assert list(loud_strings(table(*rows))) == []


def test_both_outputs_hear_it_only_where_both_do() -> None:
    piezo = ("piezo", "E2", 1, -15.0, 5)
    (alone,) = loud_strings(table(piezo, ("magnetic", "E2", 1, None, None)))
    assert alone.output == "piezo"
    assert alone.also == ""
    (both,) = loud_strings(table(piezo, ("magnetic", "E2", 1, -40.0, 5)))
    assert both.also == "magnetic"


def test_tables_without_the_columns_say_nothing() -> None:
    assert list(loud_strings(pd.DataFrame({"note": ["E2"]}))) == []
