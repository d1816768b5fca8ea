"""The sheet a customer gets: what was done, what it did, how sure that is, what to take care of.

Written from the same differences as the findings, in words a customer can retell: no interval, no
count behind a number, no verdict by its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.compare.worth.work_steps import Step
from tonecompare.language import tr, tr_as, tr_later, tr_n
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.compared_sides import (
    Compared,
    VoiceOutput,
    compared,
    titles_of,
)
from tonecompare.report.words.finding_words.worked_on import work_between
from tonecompare.report.words.numbers import listed
from tonecompare.report.words.sheet_words.plain_changes import (
    IDEAS,
    IN_PAUSES,
    changes_said,
    heard_alike,
    plain_row,
    same_said,
)
from tonecompare.report.words.sheet_words.sureness import sureness
from tonecompare.session.model import ComparedSide, Session

#: Voices told one by one, and voices named where several are meant.
_VOICES_TOLD, _NAMED = 3, 3
_SHORT = 42
_HUM_CAUTION = tr_later(
    "Hum: never lift, cut or tape over a protective earth to be rid of it. What carries mains is "
    "for a qualified electrician, under your local code."
)
_SOLDER_CAUTION = tr_later(
    "Wiring and soldering: take batteries out first, draw off the fumes, wash your hands after "
    "leaded solder."
)
_LISTEN_CAUTION = tr_later("Listening: a moderate level; turn down before you switch sounds.")
_MONTHS = (
    tr_later("January"), tr_later("February"), tr_later("March"), tr_later("April"),
    tr_later("May"), tr_later("June"), tr_later("July"), tr_later("August"),
    tr_later("September"), tr_later("October"), tr_later("November"), tr_later("December"),
)  # fmt: skip


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
        """Whether something else may explain what differs in anything a player asks."""
        told = [plain_row(idea, self.rows) for idea in IDEAS]
        return any(row is not None and row.verdict == "confounded" for row in told)

    @property
    def size(self) -> float:
        """How far its notes surely moved, in hearing thresholds: they are what is played."""
        told = [plain_row(idea, self.rows) for idea in IDEAS]
        return max(
            (
                row.surely_thresholds
                for row in told
                if row and row.claimed and row.quantity not in IN_PAUSES
            ),
            default=0.0,
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
    facts = [(tr("How sure"), sureness(every, comparisons, [voice.rows for voice in voices]))]
    if worth:
        facts.insert(0, (tr("Cost"), _costs(costs)))
    facts.append((tr("Take care"), _cautions(session, voices)))
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
                name = tr("{one} against {other}", one=one.labels[1], other=one.labels[0])
            elif len(one.voices) == 1 and one.before == one.after:
                name = one.labels[1]
            elif several:
                name = tr("{voice} of {stage}", voice=name, stage=one.after)
            yield ToldVoice(one.name, key, short(name), one.of(key))


def _done(session: Session, every: Sequence[Compared]) -> tuple[str, ...]:
    """Say what was set against what, what was done between and when each side was recorded."""
    said, days = list[str](), dict[str, str]()
    told = every[: _told_of(len(every), _VOICES_TOLD)]
    for one in told:
        sides = [ComparedSide.named(name) for name in (one.before, one.after)]
        stages = [session.stages.get(side.stage) for side in sides]
        work = work_between(session, one.before, one.after)
        before, after = map(short, one.labels)
        if work:
            said.append(f"{after}: {'; '.join(work)}.")
        elif one.between_voices:
            said.append(tr("{after} set against {before}.", after=after, before=before))
        else:
            said.append(
                tr(
                    "{after} set against {before}; no work is noted between them.",
                    after=after,
                    before=before,
                )
            )
        for stage in stages:
            if stage is not None and stage.date is not None:
                days[short(stage.name)] = _day(stage.date)
    if rest := len(every) - len(told):
        said.append(tr("{n} more comparisons stand further down.", n=rest))
    recorded = ", ".join(tr("{stage} on {day}", stage=name, day=day) for name, day in days.items())
    return (" ".join(said), tr("Recorded: {stages}.", stages=recorded) if recorded else "")


def _day(date: date) -> str:
    """Write a date as people do: ``3 March 2026``."""
    month = tr(_MONTHS[date.month - 1])
    return tr("{day} {month} {year}", day=date.day, month=month, year=date.year)


def _headline(every: Sequence[Compared], voices: Sequence[ToldVoice]) -> str:
    """Answer the one question first: is there a difference one would hear?"""
    heard = [one for one in voices if one.heard]
    changed = [one for one in voices if one.changed]
    if not voices:
        return tr("These recordings share nothing that could be compared.")
    if heard and all(one.between_voices for one in every):
        return _differences_heard(len(heard), len(voices))
    if heard:
        return _voices_heard(len(heard), len(voices))
    if changed and len(voices) == 1:
        return tr("There is a difference, but it may be too small to hear.")
    if changed:
        return tr("There are differences, but they may be too small to hear.")
    if any(one.mixed for one in voices):
        return tr("Something differs, but it need not be what was meant to be compared.")
    if any(_shown_same(one) for one in voices):
        return tr("No difference that you would be expected to hear.")
    return tr("These recordings cannot tell whether the sound differs.")


def _voices_heard(some: int, n: int) -> str:
    if n == 1:
        return tr("You can expect to hear the difference.")
    if some < n:
        return tr("You can expect to hear a difference in {some} of {n} voices.", some=some, n=n)
    if n == 2:
        return tr("You can expect to hear a difference in both voices.")
    return tr("You can expect to hear a difference in all {n} voices.", n=n)


def _differences_heard(some: int, n: int) -> str:
    """Say it of sounds set against each other: there is one more of them than differences."""
    if n == 1:
        return tr("You can expect to hear this difference.")
    if some < n:
        return tr_n(
            "You can expect to hear {n} of {all} differences.",
            "You can expect to hear {n} of {all} differences.",
            some,
            all=n,
        )
    if n == 2:
        return tr("You can expect to hear both differences.")
    return tr("You can expect to hear all {n} differences.", n=n)


def _shown_same(voice: ToldVoice) -> bool:
    return bool(same_said(voice.rows, "before"))


def _sentences(
    every: Sequence[Compared], voices: Sequence[ToldVoice], found: Sequence[Confound]
) -> tuple[str, ...]:
    """Tell the voices that moved farthest, then name the others, those that stayed, the open."""
    said = [_told(one, every) for one in voices if one.changed][:_VOICES_TOLD]
    rest = [one for one in voices if one.changed][_VOICES_TOLD:]
    if rest:
        said.append(_of_the_rest(rest))
    same = [one for one in voices if not (one.changed or one.mixed) and _shown_same(one)]
    if same:
        text = same_said(same[0].rows, _as(same[0], every)) if len(same) == 1 else ""
        said.append(
            f"{same[0].name} {text}."
            if text
            else tr(
                "{voices} show no difference that you would be expected to hear.",
                voices=_names(same),
            )
        )
    mixed = [one for one in voices if one.mixed]
    if mixed and found:
        said.append(
            tr(
                "{voices}: something else may explain part of it, as said below.",
                voices=_names(mixed),
            )
        )
    return tuple(said[:5])


def _of_the_rest(rest: Sequence[ToldVoice]) -> str:
    """Name the changed voices that are not told of, with what is heard alike of them."""
    if not any(one.heard for one in rest):
        return tr("A difference in {voices} may be too small to hear.", voices=_names(rest))
    alike = heard_alike([one.rows for one in rest])
    if alike:
        return tr("There is {change} on {voices} too.", change=alike, voices=_names(rest))
    return tr("There is a difference in {voices} too.", voices=_names(rest))


def _told(voice: ToldVoice, every: Sequence[Compared]) -> str:
    changes, heard = changes_said(voice.rows)
    same = same_said(voice.rows, _as(voice, every))
    told = f"{voice.name} {changes}"
    if not heard:
        told = tr("{changes}, which may be too small to hear", changes=told)
    return tr("{changes}; it {same}.", changes=told, same=same) if same else f"{told}."


def _as(voice: ToldVoice, every: Sequence[Compared]) -> str:
    one = next(each for each in every if each.name == voice.comparison)
    if one.sisters:
        return tr_as("as loud as", "its sister")
    return tr_as("as loud as", "the other") if one.between_voices else tr("before")


def _names(voices: Sequence[ToldVoice]) -> str:
    names = list(dict.fromkeys(one.name for one in voices))
    if len(names) > _NAMED:
        names = [*names[: _NAMED - 1], tr("{n} more", n=len(names) - _NAMED + 1)]
    return listed(names)


def _told_of(n: int, most: int) -> int:
    """Return how many of ``n`` are told: a last one takes no more room than "1 more" would."""
    return n if n == most + 1 else min(n, most)


def _costs(costs: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    said = [f"{short(stage)}: {cost}." for stage, cost in costs[: _told_of(len(costs), _NAMED)]]
    rest = len(costs) - len(said)
    if rest:
        said.append(tr("What {n} more steps cost stands further down.", n=rest))
    return tuple(said)


def _cautions(session: Session, voices: Sequence[ToldVoice]) -> tuple[str, ...]:
    """Name the dangers of what this sheet speaks of: hum, work on wiring, listening."""
    hums = any(row.quantity in IN_PAUSES and row.claimed for one in voices for row in one.rows)
    worked = any(stage.work for stage in session.stages.values())
    return (
        *((tr(_HUM_CAUTION),) if hums or worked else ()),
        *((tr(_SOLDER_CAUTION),) if worked else ()),
        tr(_LISTEN_CAUTION),
    )
