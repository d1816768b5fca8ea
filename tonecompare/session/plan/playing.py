"""What is played in every recording, by effort, and what each can show.

Single notes are the most exact and take longest; chords take less; a riff is what one plays anyway.
They may be mixed: whatever lies in a recording is told apart by its sound.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce

from tonecompare.language import tr, tr_later
from tonecompare.session.model import CHORDS, PLUCKS, RIFF, TIMES

#: Chords of a plan: fewer than three say nothing over chords.
CHORDS_PLANNED = 3
#: Seconds of one strum left to ring, and of one riff with the pause behind it.
_SECONDS = {CHORDS: 8.0, RIFF: 12.0}
_HOW = {
    PLUCKS: tr_later("single notes, left to ring"),
    CHORDS: tr_later("{chords} chords, {times} strums of each, left to ring for 5 s"),
    RIFF: tr_later("one riff of about 8 s, {times} times, with 2 s of silence between"),
}
_SHOWS = {
    PLUCKS: tr_later(
        "Single notes show most: level, brightness, decay, partials, hum, the picking place, and "
        "the pickup's place and resonance."
    ),
    CHORDS: tr_later(
        "Chords show level, bands, brightness, how long the whole rings, and hum; never single "
        "partials, tuning or the picking place."
    ),
    RIFF: tr_later(
        "A riff shows level from about 1.5 dB (for a steady hand), treble from about 2 dB, and "
        "hum; never decay, single partials, the picking place or the pickup's resonance. Another "
        "riff could show other things."
    ),
}


def played_s(play: Iterable[str]) -> float:
    """Seconds that chords and a riff take in one recording.

    Examples
    --------
    >>> played_s(("plucks", "riff")), played_s(("chords",))
    (48.0, 96.0)
    """
    times = {CHORDS: CHORDS_PLANNED * TIMES, RIFF: TIMES}
    return sum(times[kind] * _SECONDS[kind] for kind in dict.fromkeys(play) if kind in times)


def how_played(play: Iterable[str]) -> str:
    """Say what a recording holds, in the order it is played."""
    said = [tr(_HOW[kind], chords=CHORDS_PLANNED, times=TIMES) for kind in _ordered(play)] or [""]
    return reduce(lambda first, then: tr("{first}; then {then}", first=first, then=then), said)


def what_shows(play: Iterable[str]) -> tuple[str, ...]:
    """Return a sentence for each kind on what it can show."""
    return tuple(tr(_SHOWS[kind]) for kind in _ordered(play))


def _ordered(play: Iterable[str]) -> list[str]:
    wanted = set(play)
    return [kind for kind in (PLUCKS, CHORDS, RIFF) if kind in wanted]
