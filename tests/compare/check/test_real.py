"""Check on real takes that some developers keep beside the checkout: what it says is so.

The long-decays takes are untrimmed magnetic DI notes, one pluck each: clean but for the single
pluck of every note and a fade. The others are trimmed at the onset and faded at the end (their
README), and that is what has to be said of them.
"""

from __future__ import annotations

from pathlib import Path

import check_takes as takes
import pytest


def linked(root: Path, voice: str, files: list[Path]) -> Path:
    """Put files into a voice's folder of a session."""
    assert files
    folder = root / "stock" / voice
    folder.mkdir(parents=True)
    for file in files:
        (folder / file.name).symlink_to(file)
    return root


def kinds(root: Path) -> set[str]:
    return {fault.kind for fault in takes.faults(root)}


def test_untrimmed_takes_have_no_fault_but_what_is_there(recordings, tmp_path):
    files = sorted((recordings / "long-decays").glob("[1-6][ac]-*.flac"))
    found = takes.faults(linked(tmp_path, "strings", files))
    assert {fault.kind for fault in found} == {"missing repeats", "fade"}
    # 4c and 5c are 3.0 s long and fall by 25 dB in their last 0.14 s, hiss and all: a fade.
    faded = {Path(fault.file).name for fault in found if fault.kind == "fade"}
    assert faded <= {"4c-G-24th.flac", "5c-B-24th.flac"}


@pytest.mark.slow
def test_trimmed_and_faded_takes_are_told_as_such(recordings, tmp_path):
    files = sorted((recordings / "pickup-and-microphone" / "electric").glob("*_vl2_*.flac"))
    assert kinds(linked(tmp_path, "electric", files)) == {"no quiet", "attack", "fade"}
