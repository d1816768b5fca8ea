"""What a check says: why cells are empty, and its JSON."""

from __future__ import annotations

import json

from tonecompare.compare.check import smallest_shown
from tonecompare.compare.check.check_results import CheckResult, Fault, Resolved, StageAnswer
from tonecompare.report.words.check_text import (
    again_by_reason,
    check_json,
    grouped,
    unknown_reasons,
)
from tonecompare.session.model import LeftOut


def _answer(*reasons: str) -> StageAnswer:
    resolved = tuple(
        Resolved("stock", "neck", "magnetic", "cents", "pitch", "cents", None, 5.0, None, 1, 1, why)
        for why in reasons
    )
    fault = Fault(
        "too quiet", "again", "stock", "neck", "stock/neck.wav", 1.5, (-41.26, None), (3,)
    )
    again = (("neck", "stock/neck.wav", "too quiet"),)
    return StageAnswer("stock", "no-go", 1, 1, (fault,), again, resolved)


def test_every_reason_why_a_cell_is_empty_is_said() -> None:
    codes = {
        smallest_shown.NO_VALUE: "not measured on any pluck",
        smallest_shown.FEW_REPEATS: "too few repeats to know the spread",
        smallest_shown.NO_VARIATION: "the plucks do not differ at all: copies?",
        smallest_shown.ONE_PLUCK: "one note plucked once",
        smallest_shown.NO_STRETCH: "not measured",
    }
    said = unknown_reasons(_answer(*codes))
    assert said == [f"neck pitch: {reason}." for reason in codes.values()]


def test_the_json_holds_words_not_codes() -> None:
    left_out = (LeftOut("stock/x.wav", "Is empty (0 bytes).", of_file=True),)
    answer = _answer(smallest_shown.ONE_PLUCK)
    data = json.loads(check_json(CheckResult("heron", (answer,), left_out)))
    (stage,) = data["stages"]
    (fault,) = stage["faults"]
    assert list(fault) == [
        "kind", "severity", "stage", "voice", "file", "time_s", "what", "why", "remedy", "plucks",
    ]  # fmt: skip
    assert fault["what"] == "The loudest sample is at −41.3 dBFS."
    assert fault["plucks"] == [3]
    assert stage["can_show"][0]["reason"] == "one note plucked once"
    assert data["left_out"] == [{"file": "stock/x.wav", "reason": "Is empty (0 bytes)."}]


def test_equal_faults_of_several_files_are_told_once_with_their_number() -> None:
    offset = Fault("doubled channel", "note", "stock", "neck", "stock/neck.wav", None)
    quiet = Fault("too quiet", "again", "stock", "neck", "stock/neck.wav", 1.5, (-41.26, None))
    names = ("bridge", "middle", "neck", "bridge-split", "neck-split", "piezo", "blend")
    doubled = [
        Fault("doubled channel", "doubt", "stock", name, f"stock/{name}.wav", None)
        for name in names
    ]
    told = grouped([offset, *doubled, quiet])
    assert [(each.fault.severity, each.place()) for each in told] == [
        ("again", "neck.wav at 1.5 s"),
        ("doubt", "7 files"),
        ("note", "neck.wav"),
    ]
    assert told[1].likewise() == (
        "Likewise: middle.wav, neck.wav, bridge-split.wav, neck-split.wav, piezo.wav, blend.wav."
    )
    assert told[0].likewise() == ""


def test_what_to_record_again_stands_by_reason() -> None:
    again = tuple(("", f"stock/{name}.wav", "clipping") for name in ("neck", "bridge"))
    answer = StageAnswer(
        "stock", "no-go", 3, 9, (), (*again, ("middle", "", "missing voice")), ()
    )  # fmt: skip
    assert again_by_reason(answer) == [
        ("clipping", ["neck.wav", "bridge.wav"]),
        ("missing voice", ["middle"]),
    ]
