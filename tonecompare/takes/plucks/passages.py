"""Which events belong to one played passage: notes and chords that follow one another in time.

Single plucks are left to ring, a riff is not: in a passage the next event comes before the last is
over, several times a second. A passage becomes one event of its own; what it holds is not measured
note by note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from tonecompare.takes.judge_plucks import Found
from tonecompare.takes.plucks.chord_names import is_chord

#: What a passage is called until it is known which passages are the same music.
PASSAGE = "riff"
#: Events of a passage follow each other within this time, half of them within the shorter one.
LONGEST_GAP_S, USUAL_GAP_S = 1.2, 0.75
#: A note missed by the finder makes no end of a passage: so little silence, so long between onsets.
LONGEST_SILENCE_S, LONGEST_MISSED_S = 0.6, 2.0
#: A passage has this many events at least, over this time, and this share of them differs from the
#: one before: plucks repeated in quick turn, each several times, are no passage.
FEWEST_EVENTS, SHORTEST_S, LEAST_CHANGES = 5, 1.5, 0.4
#: Of music that goes on longer, each part of this length is a passage of its own.
LONGEST_S = 120.0


def is_passage(name: str) -> bool:
    """Whether what an event is called is the name of a played passage ("riff", "riff B")."""
    return name.split(" ", maxsplit=1)[0] == PASSAGE


def is_played(name: str) -> bool:
    """Whether what an event is called is the name of a chord or a passage, not of a single note."""
    return is_chord(name) or is_passage(name)


def event_of(name: str) -> str:
    """Return what an event of this name is: "note", "chord" or "riff"; "" without a name."""
    if is_passage(name):
        return PASSAGE
    if is_chord(name):
        return "chord"
    return "note" if name else ""


def joined_passages(found: Sequence[Found]) -> list[Found]:
    """Return the events of a file with those of a passage made one.

    The event then begins with the first and ends with the last; ``events_s`` holds when each
    began. It has neither pitch nor chord.
    """
    runs: list[list[Found]] = []
    for each in found:
        follows = runs and _start(each) - _start(runs[-1][-1]) < LONGEST_GAP_S
        if follows and _start(each) - _start(runs[-1][0]) < LONGEST_S:
            runs[-1].append(each)
        else:
            runs.append([each])
    joined: list[Found] = []
    for run in _with_strays(runs):
        joined.extend([_one(run)] if _is_played(run) else run)
    return joined


def _with_strays(runs: list[list[Found]]) -> list[list[Found]]:
    """Give a passage the few events beside it that a missed note parts from it.

    Between passages there is silence; where there is next to none the music goes on.
    """
    kept: list[list[Found]] = []
    for run in runs:
        goes_on = (
            kept
            and min(len(kept[-1]), len(run)) < FEWEST_EVENTS
            and (_is_played(kept[-1]) or _is_played(run))
            and _start(run[0]) - kept[-1][-1].end_s < LONGEST_SILENCE_S
            and _start(run[0]) - _start(kept[-1][-1]) < LONGEST_MISSED_S
        )
        if goes_on:
            kept[-1] = [*kept[-1], *run]
        else:
            kept.append(run)
    return kept


def _start(found: Found) -> float:
    return min(found.channel_onset_s)


def _is_played(run: Sequence[Found]) -> bool:
    changes = sum(one.note != other.note for one, other in pairwise(run))
    if len(run) < FEWEST_EVENTS or changes < LEAST_CHANGES * (len(run) - 1):
        return False
    starts = [_start(each) for each in run]
    gaps = [later - earlier for earlier, later in pairwise(starts)]
    return starts[-1] - starts[0] >= SHORTEST_S and float(np.median(gaps)) <= USUAL_GAP_S


def _one(run: Sequence[Found]) -> Found:
    kept = {"starts-inside", "trimmed", "cut", "faded", "damped"}
    flags = dict.fromkeys(flag for each in (run[0], run[-1]) for flag in each.flags if flag in kept)
    return replace(
        run[0],
        end_s=run[-1].end_s,
        ended_by=run[-1].ended_by,
        level_db=max(each.level_db for each in run),
        pitch=None,
        note=PASSAGE,
        chord=(),
        flags=tuple(flags),
        events_s=tuple(_start(each) for each in run),
    )
