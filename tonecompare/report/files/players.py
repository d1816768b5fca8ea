"""Sounds that are part of the page: one player a voice, its excerpts carried inside the page."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tonecompare.language import tr
from tonecompare.report.files.clips import AS_RECORDED, Clip, Clips
from tonecompare.report.words.names import slug
from tonecompare.report.words.standing_texts import BESIDE, TOO_LARGE, match_label

#: Sounds of one page together, as text in base64: leaves room for the charts below 10 MB.
MOST_CHARACTERS = 7_500_000


@dataclass(frozen=True)
class Sound:
    """One sound of a player.

    ``key`` names the FLAC data carried by the page, ``spans`` start and stop in s of each note
    (``0 4;4.1 8.1``), ``gain_db`` what makes it as loud as the others.
    """

    key: str
    label: str
    spans: str
    gain_db: float


@dataclass(frozen=True)
class Player:
    """The sounds of one voice that are played in step; ``match`` labels the choice of loudness."""

    title: str
    sounds: tuple[Sound, ...]
    notes: tuple[str, ...]
    match: str = ""


@dataclass
class SoundStore:
    """Carries FLAC files into the page until ``room`` is used up; ``data`` is base64 by key."""

    folder: Path
    room: int = MOST_CHARACTERS
    data: dict[str, str] = field(default_factory=dict)

    def sides(self, title: str, clips: Clips) -> Player | str:
        """Return the player of before and after, or the sentence that says why there is none."""
        sounds, matched = clips.clips[:2], clips.clips[2:]
        gains = {clip.href: 0.0 for clip in sounds}
        for one in matched:
            louder = next(clip for clip in sounds if one.href == _matched_href(clip))
            gains[louder.href] = one.gain_db
        sides = zip(sounds, (tr("before"), tr("after")), strict=False)
        labels = {
            clip.href: clip.label.rpartition(tr(AS_RECORDED))[0] or side for clip, side in sides
        }
        louder_name = next((labels[href] for href, gain in gains.items() if gain), "")
        match = match_label(louder_name, min(gains.values(), default=0.0))
        return self._player(title, sounds, clips.notes, labels, gains, match)

    def blends(self, title: str, clips: Clips) -> Player | str:
        """Return the player of a voice's blends, cut at one loudness already."""
        labels = {clip.href: clip.label.rpartition(", ")[0] for clip in clips.clips}
        gains = dict.fromkeys(labels, 0.0)
        return self._player(title, clips.clips, clips.notes, labels, gains, "")

    def _player(
        self,
        title: str,
        clips: tuple[Clip, ...],
        notes: tuple[str, ...],
        labels: dict[str, str],
        gains: dict[str, float],
        match: str,
    ) -> Player | str:
        coded = {
            clip.href: b64encode((self.folder / clip.href).read_bytes()).decode("ascii")
            for clip in clips
        }
        size = sum(map(len, coded.values()))
        if size > self.room:
            return tr(TOO_LARGE)
        self.room -= size
        keys = {href: f"sound-{slug(Path(href).stem, longest=200)}" for href in coded}
        self.data.update((keys[href], text) for href, text in coded.items())
        sounds = tuple(
            Sound(keys[clip.href], labels[clip.href], _spans(clip), round(gains[clip.href], 3))
            for clip in clips
        )
        return Player(title, sounds, notes[: len(clips[0].spans_s)], match)


def _matched_href(clip: Clip) -> str:
    return clip.href.removesuffix(".flac") + "-matched.flac"


def _spans(clip: Clip) -> str:
    return ";".join(f"{start:.5f} {stop:.5f}" for start, stop in clip.spans_s)


def placed(
    carry: Callable[[str, Clips], Player | str] | None, title: str, clips: Clips
) -> tuple[Player | None, str]:
    """Return a voice's player, or None and the sentence that says where its sounds are."""
    if not clips.clips:
        return None, ""
    found = carry(title, clips) if carry else tr(BESIDE)
    return (None, found) if isinstance(found, str) else (found, "")
