"""Riffs and chords that a stage holds, in words: how often, how far apart, how alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from tonecompare.compare.check.check_results import Fault, PlayedAgain
from tonecompare.compare.notes import TIMES_TO_PLAY
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.words.check_words.told import Told
from tonecompare.report.words.numbers import listed, number
from tonecompare.takes.plucks.chord_names import is_chord
from tonecompare.takes.plucks.passages import is_passage


def events_counted(names: Iterable[str]) -> str:
    """Count what was played by kind.

    Examples
    --------
    >>> events_counted(["E2", "A2", "Em chord", "riff A", "riff A"])
    '2 plucks, 1 chord, 2 riffs'
    """
    names = list(names)
    chords, riffs = sum(map(is_chord, names)), sum(map(is_passage, names))
    plucks = len(names) - chords - riffs
    told = [
        tr_n("{n} pluck", "{n} plucks", plucks) if plucks or not names else "",
        tr_n("{n} chord", "{n} chords", chords) if chords else "",
        tr_n("{n} riff", "{n} riffs", riffs) if riffs else "",
    ]
    return ", ".join(filter(None, told))


def played_sentence(played: PlayedAgain) -> str:
    """Say how often a riff or chord of a voice was played, and what is needed.

    Examples
    --------
    >>> played_sentence(PlayedAgain("neck", "riff", 3, (), 20, 1.64, 0.91))
    'neck: riff of about 20 notes and chords, played 3 times, pauses of 1.6 s or more, at least \
91 % alike; 4 times or more are needed, 1 more.'
    """
    what = [
        _made_of(played),
        tr("played once") if played.times == 1 else tr("played {n} times", n=played.times),
    ]
    if played.pause_s is not None:
        what.append(tr("pauses of {pause} s or more", pause=number(played.pause_s, 1)))
    if played.likeness is not None and played.times > 1:
        what.append(tr("at least {share} % alike", share=round(100.0 * played.likeness)))
    told = f"{played.voice}: {', '.join(what)}"
    lacking = TIMES_TO_PLAY - played.times
    if lacking > 0:
        return tr(
            "{told}; {n} times or more are needed, {lacking} more.",
            told=told,
            n=TIMES_TO_PLAY,
            lacking=lacking,
        )
    return tr("{told} ({n} times or more are needed).", told=told, n=TIMES_TO_PLAY)


def _made_of(played: PlayedAgain) -> str:
    if played.events:
        return tr("{riff} of about {n} notes and chords", riff=played.name, n=played.events)
    return f"{played.name} ({' '.join(played.notes)})" if played.notes else played.name


def _other_music(fault: Fault) -> Told:
    names, other, alike = fault.data
    return Told(
        tr(
            "{riffs} is other music than in {voice} ({share} % alike).",
            riffs=listed(list(names)),
            voice=other,
            share=round(100 * alike),
        ),
        tr("Two riffs differ by their notes before anything else, so they are not compared."),
        tr(
            "Play in every voice the riff of {voice}, or leave it so if that is meant.",
            voice=other,
        ),
    )


OF_MUSIC: Mapping[str, Callable[[Fault], Told]] = {tr_later("other music"): _other_music}
