"""Flags are codes with data; their text is made once and comes apart again where it was joined."""

from __future__ import annotations

import pandas as pd
import pytest

from tonecompare.measure import flags as known
from tonecompare.measure.flags import Flag, flags_cell, unmeasured_flag, words
from tonecompare.measure.flags import with_flags_as_text as as_text
from tonecompare.measure.measured import Measured, flags_of, unmeasured


def test_a_reason_with_a_semicolon_stays_one_part() -> None:
    quantities = {
        "level_dbfs": Measured(-20.0, "dBFS"),
        "decay_s": unmeasured("s", "fell by 10 dB in 3.5 s; 25 dB are needed"),
    }
    text = flags_cell(flags_of(words("damped", "damped", "no-quiet"), quantities))
    assert text.split("; ") == [
        "damped",
        "no-quiet",
        "decay_s: fell by 10 dB in 3.5 s, 25 dB are needed",
    ]
    assert flags_cell([]) == ""


# The cells of reports written before flags had data: scripts search them for these texts.
@pytest.mark.parametrize(
    ("flag", "text", "is_word"),
    [
        (Flag("damped"), "damped", True),
        (Flag(known.TONE, (7999,)), "tone-7999-hz", True),
        (Flag(known.HUM_ELSEWHERE, (50, 60)), "hum-at-50-hz-not-60", True),
        (Flag(known.BEATING, ((1, 12), 0.349)), "beating h01 h12 from 0.3 Hz", False),
        (Flag(known.UNSETTLED, ((1, 14),)), "unsettled h01 h14", False),
        (
            Flag(known.PLACES_UNSETTLED),
            "the fit of all plucks had not come to rest",
            False,
        ),
        (Flag(known.SHORT_DECAY), "decay_s from -5 to -15 dB only", False),
        (
            Flag(known.OTHER_END, (0.547,)),
            "pluck_point: counted from the nearer end, where the others were picked lies beyond "
            "mid-string here (0.55)",
            False,
        ),
        (unmeasured_flag("too weak", "h20_db"), "h20_db: too weak", False),
        (unmeasured_flag("too weak", "h20_db", "h24_db"), "h20_db…h24_db: too weak", False),
    ],
)
def test_the_text_of_each_flag(flag: Flag, text: str, is_word: bool) -> None:
    assert flag.text == text
    assert flag.is_word is is_word


def test_flags_of_one_quantity_stand_before_the_reasons() -> None:
    quantities = {
        "h24_db": unmeasured("dB", "too weak"),
        "level_dbfs": Measured(-20.0, "dBFS"),
        "h01_db": unmeasured("dB", "too weak"),
        "decay_s": Measured(4.0, "s", flags=words(known.SHORT_DECAY)),
    }
    assert flags_of(words("damped"), quantities) == (
        Flag("damped"),
        Flag(known.SHORT_DECAY),
        unmeasured_flag("too weak", "h24_db"),
        unmeasured_flag("too weak", "h01_db"),
    )


def test_a_table_for_a_reader_holds_text_and_the_one_for_the_program_stays() -> None:
    table = pd.DataFrame({"voice": ["neck", "neck"], "flags": [words("damped", "short"), ()]})
    assert list(as_text(table)["flags"]) == ["damped; short", ""]
    assert list(table["flags"]) == [words("damped", "short"), ()]
    assert as_text(table[["voice"]]).equals(table[["voice"]])
