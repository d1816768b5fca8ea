"""Which rows the tests for confounds are given."""

from __future__ import annotations

from difference_rows_made import made_rows

from tonecompare.compare.causes.rows_to_explain import voices_of
from tonecompare.compare.difference.difference_rows import join_rows


def test_a_voice_with_two_outputs_is_known_to_have_several() -> None:
    table = join_rows(
        [
            made_rows({"level_dbfs": 1.0}, voice=voice, output=output)
            for voice, output in (("both", "magnetic"), ("both", "piezo"), ("neck", "magnetic"))
        ]
    )
    several = [(voice.voice, voice.several) for voice in voices_of(table)]
    assert several == [("both", True), ("both", True), ("neck", False)]


def test_rows_of_single_notes_stand_apart_from_those_over_the_notes() -> None:
    other = made_rows({"level_dbfs": 5.0}, voice="neck")
    over, single = (made_rows({"level_dbfs": 1.0 + k, "cents": 9.0}, note=n)
                    for k, n in enumerate(("all", "E2")))  # fmt: skip
    _, bridge = voices_of(join_rows([other, over, single]))
    assert bridge.difference("level_dbfs") == 1.0
    assert [bridge.table.difference[place] for place in bridge.single_notes("level_dbfs")] == [2.0]
    assert bridge.single_notes("level_dbfs").tolist() == [3]
