"""The player names its sides as the comparison does: before and after, voices, or guitars."""

from __future__ import annotations

import pytest

from tonecompare.report.files.clips import AS_RECORDED, Clip, Clips
from tonecompare.report.files.players import Player, SoundStore


@pytest.mark.parametrize("names", [("before", "after"), ("tern-stock", "tern-full")])
def test_sides_go_by_the_names_of_their_clips(tmp_path, names):
    (tmp_path / "clips").mkdir()
    clips = []
    for number, name in enumerate(names):
        href = f"clips/{number}.flac"
        (tmp_path / href).write_bytes(b"fLaC")
        clips.append(Clip(f"{name}{AS_RECORDED}", href, 0.0, ((0.0, 1.0),)))
    player = SoundStore(tmp_path).sides("Bridge", Clips(tuple(clips), ("E2",)))
    assert isinstance(player, Player)
    assert tuple(sound.label for sound in player.sounds) == names
