"""``tonecompare clips``: sounds of a session on disk."""

from __future__ import annotations

import pandas as pd
from click.testing import CliRunner

from tonecompare.cli import main


def test_clips_of_a_session_are_written(pair):
    arguments = ["clips", str(pair), "--voice", "neck", "--workers", "1", "--out", "sounds"]
    said = CliRunner().invoke(main, arguments)
    assert said.exit_code == 0, said.output
    assert "2 pairs of clips at −20.0 dB (LKFS, one channel)" in said.output
    rows = pd.read_csv(pair / "sounds" / "clips.csv")
    assert sorted(set(rows["note"])) == ["A2", "E2"]
    assert set(rows["voice"]) == {"neck"}
    assert set(rows["side"]) == {"before", "after"}
    # Again into the same folder: it is ours.
    assert CliRunner().invoke(main, arguments).exit_code == 0
