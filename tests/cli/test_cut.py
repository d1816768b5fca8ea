"""``tonecompare cut``: every cut is said."""

from __future__ import annotations

import numpy as np
import soundfile as sf


def test_cut_says_every_cut_and_what_comes_next(run_plain, tmp_path):
    quiet, tone = np.zeros(16_000), 0.3 * np.sin(np.arange(16_000) * 0.3)
    sf.write(tmp_path / "all.wav", np.concatenate([quiet, tone, *[quiet] * 3, tone]), 8000)
    result = run_plain("cut", tmp_path / "all.wav", "--voices", "bridge,neck")
    assert result.exit_code == 0, result.stderr
    assert "bridge.wav: from 0.0 to 5.0 s" in result.stdout
    assert "neck.wav: from 5.0 to 12.0 s, after a pause of 6.0 s" in result.stdout
    assert "Next: tonecompare compare " in result.stderr
    again = run_plain("cut", tmp_path / "all.wav", "--voices", "bridge,neck")
    assert again.exit_code == 2
    assert "exists already" in again.stderr


def test_a_voice_named_twice_is_refused(run_plain, tmp_path):
    result = run_plain("cut", tmp_path / "all.wav", "--voices", "neck,neck")
    assert result.exit_code == 2
    assert "neck" not in [path.stem for path in tmp_path.iterdir()]
    assert "twice" in result.stderr
