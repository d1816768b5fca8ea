"""Riffs and chords: how often each was played, with what pauses, and whether it is the same music.

They are judged as wholes: what is asked of single notes (in tune, left to ring, every string) is
not asked of them. :func:`is_played` of takes tells them by their names.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from tonecompare.compare.check.check_results import Checked, Fault, PlayedAgain
from tonecompare.compare.notes import TIMES_TO_PLAY
from tonecompare.session.model import CHORDS, HANDS_OFF, HANDS_ON, RIFF
from tonecompare.takes.plucks.chord_names import is_chord
from tonecompare.takes.plucks.passages import is_passage, is_played


def played_again(checked: Checked, stage: str) -> tuple[PlayedAgain, ...]:
    """Return the riffs and chords of a stage, voice by voice, in the order of the table."""
    return tuple(
        each for voice in checked.voices(stage) for each in _of_voice(checked, stage, voice)
    )


def music_faults(checked: Checked) -> Iterator[Fault]:
    """Yield riffs and chords played too seldom, and voices that hold other music than the rest."""
    for stage in checked.stages():
        by_voice: dict[str, list[PlayedAgain]] = {}
        for each in played_again(checked, stage):
            by_voice.setdefault(each.voice, []).append(each)
        for voice in checked.voices(stage):
            played = by_voice.get(voice, [])
            lacking = _planned_not_played(checked, voice, played)
            seldom = (*lacking, *((p.name, p.times) for p in played if p.times < TIMES_TO_PLAY))
            if seldom:
                # Data: how it shows, name and times of each, how often each is to be played.
                data = ("played", seldom, TIMES_TO_PLAY)
                yield Fault("missing repeats", "doubt", stage, voice, "", None, data)
        yield from _other_music(stage, by_voice)


def _planned_not_played(
    checked: Checked, voice: str, played: list[PlayedAgain]
) -> Iterator[tuple[str, int]]:
    """Yield what the plan has played in every recording and a voice holds none of."""
    planned = checked.session.planned
    if planned is None or voice.endswith((HANDS_ON, HANDS_OFF)):
        return
    if RIFF in planned.play and not any(is_passage(each.name) for each in played):
        yield "riff", 0
    if CHORDS in planned.play and not any(is_chord(each.name) for each in played):
        yield "chords", 0


def _other_music(stage: str, by_voice: dict[str, list[PlayedAgain]]) -> Iterator[Fault]:
    """Name the voices that share no riff with the voice most others share one with."""
    riffs = {
        voice: {each.name for each in played if is_passage(each.name)}
        for voice, played in by_voice.items()
    }
    riffs = {voice: names for voice, names in riffs.items() if names}
    if len(riffs) < 2:
        return
    usual = max(riffs, key=lambda voice: sum(bool(riffs[voice] & n) for n in riffs.values()))
    for voice, names in riffs.items():
        if not names & riffs[usual]:
            # Data: its riffs, the voice it is set against, how alike they are.
            alike = max((p.likeness or 0.0 for p in by_voice[voice]), default=0.0)
            data = (tuple(sorted(names)), usual, alike)
            yield Fault("other music", "again", stage, voice, "", None, data)


def _of_voice(checked: Checked, stage: str, voice: str) -> Iterator[PlayedAgain]:
    table = checked.plucks
    table = table[(table["stage"] == stage) & (table["voice"] == voice)]
    table = table[table["note"].map(is_played).astype(bool)].drop_duplicates(["file", "pluck"])
    cut = {(f.file, p.number): p for f in checked.of(stage, voice) for p in f.plucks}
    for name, rows in table.groupby("note", sort=False):
        here = [cut[str(f), int(n)] for f, n in zip(rows["file"], rows["pluck"], strict=True)]
        likeness = pd.to_numeric(rows["likeness"], errors="coerce").min()
        yield PlayedAgain(
            voice,
            str(name),
            len(rows),
            here[0].chord,
            round(float(np.median([len(pluck.events_s) for pluck in here]))),
            _shortest_pause(checked, rows),
            float(likeness) if np.isfinite(likeness) else None,
        )


def _shortest_pause(checked: Checked, rows: pd.DataFrame) -> float | None:
    pauses = [
        file.plucks[place + 1].onset_s - pluck.end_s
        for file in checked.files
        for place, pluck in enumerate(file.plucks[:-1])
        if pluck.number in set(rows.loc[rows["file"] == file.file, "pluck"])
    ]
    return max(0.0, min(pauses)) if pauses else None
