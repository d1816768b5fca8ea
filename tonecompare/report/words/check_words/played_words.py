"""Riffs and chords that a stage holds, in words: how often, how far apart, how alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from tonecompare.compare.check.check_results import Fault, PlayedAgain
from tonecompare.compare.notes import TIMES_TO_PLAY
from tonecompare.report.words.check_words.told import Told
from tonecompare.report.words.numbers import count, listed
from tonecompare.takes.plucks.chord_names import is_chord
from tonecompare.takes.plucks.passages import is_passage

#: From one time to the next riffs need so long a pause, or they run together.
PAUSE_S = 1.2


def events_counted(names: Iterable[str]) -> str:
    """Count what was played by kind.

    Examples
    --------
    >>> events_counted(["E2", "A2", "Em chord", "riff A", "riff A"])
    '2 plucks, 1 chord, 2 riffs'
    """
    names = list(names)
    chords, riffs = sum(map(is_chord, names)), sum(map(is_passage, names))
    counted = {"pluck": len(names) - chords - riffs, "chord": chords, "riff": riffs}
    told = [count(number, kind) for kind, number in counted.items() if number]
    return ", ".join(told) or "0 plucks"


def played_sentence(played: PlayedAgain) -> str:
    """Say how often a riff or chord of a voice was played, and what is needed.

    Examples
    --------
    >>> played_sentence(PlayedAgain("neck", "riff", 3, (), 20, 1.64, 0.91))
    'neck: riff of about 20 notes and chords, played 3 times, pauses of 1.6 s or more, at least \
91 % alike; 4 times or more are needed, 1 more.'
    """
    what = [
        f"{played.name}{_made_of(played)}",
        f"played {'once' if played.times == 1 else count(played.times, 'time')}",
    ]
    if played.pause_s is not None:
        what.append(f"pauses of {played.pause_s:.1f} s or more")
    if played.likeness is not None and played.times > 1:
        what.append(f"at least {round(100.0 * played.likeness)} % alike")
    lacking = TIMES_TO_PLAY - played.times
    needed = f"{TIMES_TO_PLAY} times or more are needed"
    end = f"; {needed}, {lacking} more." if lacking > 0 else f" ({needed})."
    return f"{played.voice}: {', '.join(what)}{end}"


def _made_of(played: PlayedAgain) -> str:
    if played.events:
        return f" of about {played.events} notes and chords"
    return f" ({' '.join(played.notes)})" if played.notes else ""


def _other_music(fault: Fault) -> Told:
    names, other, alike = fault.data
    return Told(
        f"{listed(list(names))} is other music than in {other} ({round(100 * alike)} % alike).",
        "Two riffs differ by their notes before anything else, so they are not compared.",
        f"Play in every voice the riff of {other}, or leave it so where it is meant.",
    )


OF_MUSIC: Mapping[str, Callable[[Fault], Told]] = {"other music": _other_music}
