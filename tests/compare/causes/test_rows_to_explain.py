"""Which rows the tests for confounds are given, and how a voice is named in their sentences."""

from __future__ import annotations

import pandas as pd

from tonecompare.compare.causes.rows_to_explain import voices_of


def _row(voice: str, output: str) -> dict[str, object]:
    return {
        "comparison": "a to b", "before": "a", "after": "b", "voice": voice, "output": output,
        "note": "all", "quantity": "level_dbfs",
    }  # fmt: skip


def test_a_voice_with_two_outputs_is_named_with_its_output() -> None:
    table = pd.DataFrame(
        [_row("both", "magnetic"), _row("both", "piezo"), _row("neck", "magnetic")]
    )
    assert [voice.said for voice in voices_of(table)] == ["both (magnetic)", "both (piezo)", "neck"]
