"""Which voices the work between two stages names, and what is said of a change's cause."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tonecompare.compare.model import Confound
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.selector import is_split, whole_of
from tonecompare.language import tr
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.cause_names import cause_name
from tonecompare.report.words.numbers import listed
from tonecompare.session.model import Session

#: Words of a voice's name that say how it is wired, not which pickup it is.
_SETTINGS = frozenset(
    ("split", "tap", "tapped", "series", "parallel", "inverted", "reversed", "and", "in", "out",
     "of", "phase", "again", "repeat", "voice", "take", "on", "off")
)  # fmt: skip
#: Words for work that makes a split, and for where a pickup sits.
_SPLITTING = frozenset(("split", "splits", "tap", "taps"))
_PLACES = frozenset(("bridge", "middle", "neck"))


@dataclass(frozen=True)
class WorkOn:
    """One piece of work and the voices it names; none of them named means all.

    ``what`` is "" where voices stand side by side: nothing was done, one of them is asked first.
    """

    what: str
    voices: frozenset[str]

    def touches(self, voice: str) -> bool:
        """Whether the work may have changed a voice: it names it, or names none."""
        return not self.voices or voice in self.voices


def work_between(session: Session, before: str, after: str) -> tuple[str, ...]:
    """Name the work from one stage to another, following ``from`` back; () where none does."""
    stages, name = session.stages, after
    items: list[str] = []
    seen: set[str] = set()
    while name in stages and name != before and name not in seen:
        seen.add(name)
        items[:0] = [item.what for item in stages[name].work]
        name = stages[name].from_stage or ""
    return tuple(items) if name == before else ()


def work_on_voices(session: Session) -> dict[str, tuple[WorkOn, ...]]:
    """Return the work between the stages of each comparison, matched to voices by its words.

    A piece of work names a voice when it names one of its pickups or every word of its name that
    is no setting: "rewound the bridge pickup" names bridge, bridge-split and bridge-and-piezo. A
    coil split that names no pickup is work on the split voices.
    """
    found: dict[str, tuple[WorkOn, ...]] = {}
    for spec in planned_comparisons(session):
        if spec.between_voices:
            # Of voices side by side a split against its whole is asked first; nothing was done.
            one, other = (side.voice or "" for side in spec.sides)
            if other and whole_of(session, other, [one]) == one:
                found[spec.name] = (WorkOn("", frozenset({other})),)
            continue
        before, after = spec.stages
        voices = (*session.common_voices(before, after), *session.voices_of(after))
        found[spec.name] = tuple(
            WorkOn(what, frozenset(v for v in voices if _names(session, what, v)))
            for what in work_between(session, before, after)
        )
    return found


def _names(session: Session, what: str, voice: str) -> bool:
    said = _words(what)
    pickups = session.voice(voice).pickups or session.voice(voice).magnetic_pickups
    if any(_words(pickup) and _words(pickup) <= said for pickup in pickups):
        return True
    own = _words(voice) - _SETTINGS
    if own and own <= said:
        return True
    return bool(said & _SPLITTING) and is_split(session, voice) and not said & _PLACES


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[^\W_]+", text.casefold()))


def names(work: Iterable[WorkOn], voice: str) -> bool:
    """Whether any piece of work names a voice."""
    return any(voice in one.voices for one in work)


def cause_told(
    work: Sequence[WorkOn],
    voices: Sequence[str],
    changed: Sequence[Difference],
    confounds: Iterable[Confound],
    *,
    output: str = "",
) -> str:
    """Return what was done to what changed, or that no cause is known, with a space before it.

    Parameters
    ----------
    work
        Of the comparison; without any, nothing is said: nobody told what was done.
    voices
        Of which the sentence speaks.
    changed
        What changed on them.
    confounds
        What else was looked for.
    output
        Of which it speaks, "" for all.
    """
    if not work or not changed:
        return ""
    if not any(one.what for one in work):
        return ""
    done = [one.what for one in work if all(one.touches(voice) for voice in voices)]
    sisters = changed[0].sisters
    if done:
        said = "; ".join(done)
        if sisters:
            told = tr(
                "Work on this guitar: {work}. The two may have differed before it.", work=said
            )
        elif len(voices) == 1:
            told = tr("Work on it: {work}.", work=said)
        else:
            told = tr("Work on them: {work}.", work=said)
        return f" {told}"
    quantities = {row.quantity for row in changed}
    beside = dict.fromkeys(
        cause_name(one.kind)
        for one in confounds
        for voice in voices
        if one.found
        and one.concerns(changed[0].comparison, voice, output or one.output)
        and quantities & set(one.explains)
    )
    return f" {_no_work_told(list(beside), one_voice=len(voices) == 1, sisters=sisters)}"


def _no_work_told(beside: list[str], *, one_voice: bool, sisters: bool) -> str:
    """Say that no work names what changed, and what was found beside it."""
    causes = listed(beside)
    if beside and one_voice:
        return tr("No work names it; found beside it: {causes}.", causes=causes)
    if beside:
        return tr("No work names all of them; found beside it: {causes}.", causes=causes)
    if sisters and one_voice:
        return tr("No work names it: the two guitars may have differed before.")
    if sisters:
        return tr("No work names all of them: the two guitars may have differed before.")
    if one_voice:
        return tr("No work names it, and no other cause is known.")
    return tr("No work names all of them, and no other cause is known.")
