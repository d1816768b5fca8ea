"""Flags come apart again where they were joined."""

from __future__ import annotations

from tonecompare.measure.flags import SEPARATOR, joined_flags, with_flag
from tonecompare.measure.model import Measured, unmeasured
from tonecompare.measure.take import flags_text


def test_a_reason_with_a_semicolon_stays_one_part():
    quantities = {
        "level_dbfs": Measured(-20.0, "dBFS"),
        "decay_s": unmeasured("s", "fell by 10 dB in 3.5 s; 25 dB are needed"),
    }
    text = flags_text(("damped", "damped", "no-quiet"), quantities)
    assert text.split(SEPARATOR) == [
        "damped",
        "no-quiet",
        "decay_s: fell by 10 dB in 3.5 s, 25 dB are needed",
    ]


def test_one_more_flag():
    assert with_flag("", "one; two") == "one, two"
    assert with_flag(None, "one") == "one"
    assert with_flag("one; two", "three") == "one; two; three"
    assert with_flag("one; two", "two") == "one; two"
    assert joined_flags([]) == ""
