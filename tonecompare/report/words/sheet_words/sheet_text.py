"""The sheet a customer gets: what was done, what it did, how sure that is, what to take care of.

Written from the same differences as the findings, in words a customer can retell: no interval, no
count behind a number, no verdict by its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.compare.worth.work_steps import Step
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.compared_sides import (
    Compared,
    VoiceOutput,
    compared,
    titles_of,
)
from tonecompare.report.words.finding_words.worked_on import work_between
from tonecompare.report.words.numbers import count, listed
from tonecompare.report.words.sheet_words.plain_changes import (
    CLAIMED,
    IDEAS,
    changes_said,
    plain_row,
    same_said,
)
from tonecompare.report.words.sheet_words.sureness import sureness
from tonecompare.session.model import ComparedSide, Session

#: Voices told one by one, and voices named where several are meant.
_VOICES_TOLD, _NAMED = 3, 3
_SHORT = 42
_HUM_CAUTION = (
    "Hum: never lift, cut or tape over a protective earth to be rid of it. What carries mains is "
    "for a qualified electrician, under your local code."
)
_SOLDER_CAUTION = (
    "Wiring and soldering: take batteries out first, draw off the fumes, wash your hands after "
    "leaded solder."
)
_LISTEN_CAUTION = "Listening: a moderate level; turn down before you switch sounds."


@dataclass(frozen=True)
class ToldVoice:
    """One voice of one comparison: its name on the sheet and its differences."""

    comparison: str
    key: VoiceOutput
    name: str
    rows: tuple[Difference, ...]

    @property
    def heard(self) -> bool:
        """Whether any of it is likely to be heard."""
        return changes_said(self.rows)[1]

    @property
    def changed(self) -> bool:
        """Whether anything of it is claimed."""
        return bool(changes_said(self.rows)[0])

    @property
    def mixed(self) -> bool:
        """Whether something else may explain what differs in loudness, tone, sustain or hum."""
        told = [plain_row(idea, self.rows) for idea in IDEAS]
        return any(row is not None and row.verdict == "confounded" for row in told)

    @property
    def size(self) -> float:
        """How far it surely moved, in hearing thresholds."""
        told = [plain_row(idea, self.rows) for idea in IDEAS]
        return max(
            (row.surely_thresholds for row in told if row and row.verdict in CLAIMED), default=0.0
        )


@dataclass(frozen=True)
class SheetText:
    """The words of the sheet; ``facts`` are (label, texts) such as cost and how sure."""

    done: tuple[str, ...]
    headline: str
    sentences: tuple[str, ...]
    facts: tuple[tuple[str, tuple[str, ...]], ...]
    #: Every voice, the one to hear first at the front.
    voices: tuple[ToldVoice, ...]


def sheet_text(
    session: Session,
    comparisons: Comparisons,
    *,
    worth: Sequence[Step] = (),
    costs: Sequence[tuple[str, str]] = (),
) -> SheetText:
    """Return the words of the sheet.

    Parameters
    ----------
    session, comparisons
        What the report is about.
    worth
        Steps of work; decides whether cost is spoken of.
    costs
        Stage and its cost in words.
    """
    every = compared(session, comparisons)
    voices = tuple(sorted(_voices(every), key=lambda one: (not one.heard, -one.size)))
    found = [one for one in comparisons.confounds if one.found]
    sentences = _sentences(every, voices, found)
    facts = [("How sure", sureness(every, comparisons, [voice.rows for voice in voices]))]
    if worth:
        facts.insert(0, ("Cost", _costs(costs)))
    facts.append(("Take care", _cautions(session, voices)))
    return SheetText(
        _done(session, every), _headline(every, voices), sentences, tuple(facts), voices
    )


def short(name: str) -> str:
    """Cut a name that would not leave room for the rest of the sheet."""
    return name if len(name) <= _SHORT else name[: _SHORT - 1].rstrip() + "…"


def _voices(every: Sequence[Compared]) -> Iterable[ToldVoice]:
    several = len(every) > 1
    for one in every:
        titles = titles_of(one.voices)
        for key in one.voices:
            name = titles[key]
            if one.between_voices:
                name = f"{one.labels[1]} against {one.labels[0]}"
            elif len(one.voices) == 1 and one.before == one.after:
                name = one.labels[1]
            elif several:
                name = f"{name} of {one.after}"
            yield ToldVoice(one.name, key, short(name), one.of(key))


def _done(session: Session, every: Sequence[Compared]) -> tuple[str, ...]:
    """Say what was set against what, what was done between and when each side was recorded."""
    said, days = list[str](), dict[str, str]()
    for one in every[:_VOICES_TOLD]:
        sides = [ComparedSide.named(name) for name in (one.before, one.after)]
        stages = [session.stages.get(side.stage) for side in sides]
        work = work_between(session, one.before, one.after)
        before, after = map(short, one.labels)
        if work:
            said.append(f"{after}: {'; '.join(work)}.")
        elif one.between_voices:
            said.append(f"{after} set against {before}.")
        else:
            said.append(f"{after} set against {before}; no work is noted between them.")
        for stage in stages:
            if stage is not None and stage.date is not None:
                days[short(stage.name)] = f"{stage.date.day} {stage.date:%B %Y}"
    if len(every) > _VOICES_TOLD:
        said.append(f"{count(len(every) - _VOICES_TOLD, 'more pair')} further down.")
    recorded = ", ".join(f"{name} on {day}" for name, day in days.items())
    return (" ".join(said), f"Recorded: {recorded}." if recorded else "")


def _headline(every: Sequence[Compared], voices: Sequence[ToldVoice]) -> str:
    """Answer the one question first: is there a difference one would hear?"""
    heard = [one for one in voices if one.heard]
    changed = [one for one in voices if one.changed]
    if not voices:
        return "These recordings share nothing that could be compared."
    if len(voices) == 1:
        between = every[0].between_voices
        if heard:
            return f"You can expect to hear {'this' if between else 'the'} difference."
        if changed:
            return "There is a difference, but it may be too small to hear."
    elif heard:
        if len(heard) == len(voices):
            every_one = "both" if len(voices) == 2 else f"all {len(voices)}"
            return f"You can expect to hear a difference in {every_one} voices."
        return f"You can expect to hear a difference in {len(heard)} of {len(voices)} voices."
    elif changed:
        return "There are differences, but they may be too small to hear."
    if any(one.mixed for one in voices):
        return "Something differs, but it need not be what was meant to be compared."
    if any(_shown_same(one) for one in voices):
        return "No difference that you would be expected to hear."
    return "These recordings cannot tell whether the sound differs."


def _shown_same(voice: ToldVoice) -> bool:
    return bool(same_said(voice.rows, "before"))


def _sentences(
    every: Sequence[Compared], voices: Sequence[ToldVoice], found: Sequence[Confound]
) -> tuple[str, ...]:
    """Tell the voices that moved farthest, then name the others, those that stayed, the open."""
    said = [_told(one, every) for one in voices if one.changed][:_VOICES_TOLD]
    rest = [one for one in voices if one.changed][_VOICES_TOLD:]
    if rest:
        said.append(f"There is a difference in {_names(rest)} too.")
    same = [one for one in voices if not (one.changed or one.mixed) and _shown_same(one)]
    if same:
        text = same_said(same[0].rows, _as(same[0], every)) if len(same) == 1 else ""
        said.append(
            f"{same[0].name} {text}."
            if text
            else f"{_names(same)} show no difference that you would be expected to hear."
        )
    mixed = [one for one in voices if one.mixed]
    if mixed and found:
        said.append(f"{_names(mixed)}: something else may explain part of it, as said below.")
    return tuple(said[:4])


def _told(voice: ToldVoice, every: Sequence[Compared]) -> str:
    changes, heard = changes_said(voice.rows)
    same = same_said(voice.rows, _as(voice, every))
    hearing = "" if heard else ", which may be too small to hear"
    return f"{voice.name} {changes}{hearing}{f'; it {same}' if same else ''}."


def _as(voice: ToldVoice, every: Sequence[Compared]) -> str:
    one = next(each for each in every if each.name == voice.comparison)
    return "its sister" if one.sisters else "the other" if one.between_voices else "before"


def _names(voices: Sequence[ToldVoice]) -> str:
    names = list(dict.fromkeys(one.name for one in voices))
    if len(names) > _NAMED:
        names = [*names[: _NAMED - 1], f"{len(names) - _NAMED + 1} more"]
    return listed(names)


def _costs(costs: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    said = [f"{short(stage)}: {cost}." for stage, cost in costs[:_NAMED]]
    rest = len(costs) - len(said)
    if rest:
        said.append(f"What {count(rest, 'more step')} cost stands further down.")
    return tuple(said)


def _cautions(session: Session, voices: Sequence[ToldVoice]) -> tuple[str, ...]:
    """Name the dangers of what this sheet speaks of: hum, work on wiring, listening."""
    hums = any(
        row.quantity == "hum_dbfs" and row.verdict in CLAIMED for one in voices for row in one.rows
    )
    worked = any(stage.work for stage in session.stages.values())
    return (
        *((_HUM_CAUTION,) if hums or worked else ()),
        *((_SOLDER_CAUTION,) if worked else ()),
        _LISTEN_CAUTION,
    )
