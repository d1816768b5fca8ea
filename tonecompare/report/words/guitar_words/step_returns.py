"""What a step brought for what it cost, beside the step before it or the next cheaper one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tonecompare.compare.worth.work_steps import Step
from tonecompare.language import tr, tr_n
from tonecompare.report.words.guitar_words.cost_words import amount, short
from tonecompare.report.words.guitar_words.step_words import (
    VoiceRows,
    heard_in,
    likely,
    names_of_new,
    noise_heard,
)
from tonecompare.report.words.numbers import listed, number


def gained(step: Step, voices: VoiceRows) -> str:
    """Say in one clause what a step changed and added: "made … on …; it added …"."""
    parts = {title: len(likely(rows)) for title, rows in voices.items()}
    heard = [title for title, found in parts.items() if found]
    before = tr("its sister {stage}", stage=step.before) if step.sister else step.before
    noise = listed(noise_heard(voices))
    where = _on_shared(len(heard), len(parts), before)
    if not parts:
        said = tr("shares no voice with {before}", before=before)
    elif not heard:
        said = (
            tr("shows nothing likely audible {where}", where=where)
            if step.sister
            else tr("changed nothing likely audible {where}", where=where)
        )
        if noise:
            said = tr("{said} but {noise} in the pauses", said=said, noise=noise)
    else:
        said = _differences_made(sum(parts.values()), where, sister=step.sister)
        if noise:
            said = tr("{said}, besides {noise} in the pauses", said=said, noise=noise)
    return _with_new(said, names_of_new(step), sister=step.sister)


def _differences_made(n: int, where: str, *, sister: bool) -> str:
    if sister:
        return tr_n(
            "shows {n} likely audible difference {where}",
            "shows {n} likely audible differences {where}",
            n,
            where=where,
        )
    return tr_n(
        "made {n} likely audible difference {where}",
        "made {n} likely audible differences {where}",
        n,
        where=where,
    )


def _with_new(said: str, new: Sequence[str], *, sister: bool) -> str:
    """Add to a clause which voices a step added, or what more a sister has."""
    names = listed(list(new))
    if sister and new:
        return tr_n(
            "{said}, and has {n} voice more ({names})",
            "{said}, and has {n} voices more ({names})",
            len(new),
            said=said,
            names=names,
        )
    if sister:
        return tr("{said}, and has no further voice", said=said)
    if new:
        return tr_n(
            "{said}, and added {n} voice ({names})",
            "{said}, and added {n} voices ({names})",
            len(new),
            said=said,
            names=names,
        )
    return tr("{said}, and added no voice", said=said)


def _on_shared(heard: int, shared: int, before: str) -> str:
    """Say on which of the shared voices something is heard; "on either" where on none it is."""
    if 0 < heard < shared:
        return tr(
            "on {some} of the {n} voices it shares with {before}",
            some=heard,
            n=shared,
            before=before,
        )
    if shared == 1:
        return tr("on the one voice it shares with {before}", before=before)
    if shared == 2 and not heard:
        return tr("on either of the two voices it shares with {before}", before=before)
    if not heard:
        return tr("on any of the {n} voices it shares with {before}", n=shared, before=before)
    if shared == 2:
        return tr("on both voices it shares with {before}", before=before)
    return tr("on all {n} voices it shares with {before}", n=shared, before=before)


def steps_in_turn(steps: Sequence[Step]) -> list[tuple[Step, Step]]:
    """Return which step is set against which: the next of a line, the next dearer alternative."""
    named = {step.stage: step for step in steps}
    pairs = [(named[step.before], step) for step in steps if step.before in named]
    alternatives: dict[str, list[Step]] = {}
    for step in steps:
        if step.before not in named:
            alternatives.setdefault(step.before, []).append(step)
    for group in alternatives.values():
        group.sort(key=lambda step: _spent(step) or 0.0)
        pairs += pairwise(group)
    return pairs


def returns(
    earlier: Step, later: Step, voices: tuple[VoiceRows, VoiceRows], *, currency: str
) -> str:
    """Say what a step cost and brought beside the one before it, in one sentence of its numbers.

    Parameters
    ----------
    earlier, later
        The two steps.
    voices
        The differences of each from its stage before, by voice.
    currency
        What money is counted in; "" writes plain numbers.
    """
    told = [
        _judgement(earlier, later, voices),
        tr(
            "{later} {cost}; it {gained}. {earlier} {gained_earlier}.",
            later=later.stage,
            cost=_cost_beside(earlier, later, currency),
            gained=gained(later, voices[1]),
            earlier=earlier.stage,
            gained_earlier=gained(earlier, voices[0]),
        ),
    ]
    if earlier.sister or later.sister:
        told.append(tr("What two guitars of one model differ in anyway is in these numbers."))
    return " ".join(text for text in told if text)


def _cost_beside(earlier: Step, later: Step, currency: str) -> str:
    """Say what a step cost beside another: in money, else in parts and in hours."""
    one, other = _spent(earlier), _spent(later)
    if one and other:
        return tr(
            "cost {times} times what {stage} did ({both})",
            times=number(other / one, 1),
            stage=earlier.stage,
            both=tr("{one} against {other}", one=amount(other, ""), other=amount(one, currency)),
        )
    said = []
    if earlier.parts_cost and later.parts_cost:
        more, less = amount(later.parts_cost, ""), amount(earlier.parts_cost, currency)
        times = number(later.parts_cost / earlier.parts_cost, 1)
        both = tr("{one} against {other}", one=more, other=less)
        said.append(tr("{times} times the parts ({both})", times=times, both=both))
    if earlier.hours and later.hours:
        times = number(later.hours / earlier.hours, 1)
        both = tr("{one} against {other}", one=short(later.hours), other=short(earlier.hours))
        said.append(tr("{times} times the hours ({both})", times=times, both=both))
    if said:
        return tr("took {what} of {stage}", what=listed(said), stage=earlier.stage)
    return tr("stands beside {stage}", stage=earlier.stage)


def _judgement(earlier: Step, later: Step, voices: tuple[VoiceRows, VoiceRows]) -> str:
    """Say in front what the numbers that follow carry, "" where they carry nothing plain.

    Of sisters nothing: what they differ in anyway is in the numbers.
    """
    one, other = _spent(earlier) or earlier.hours, _spent(later) or later.hours
    less = heard_in(voices[1]) < heard_in(voices[0])
    if earlier.sister or later.sister or not less or not other > one > 0.0:
        return ""
    if len(names_of_new(later)) > len(names_of_new(earlier)):
        return tr("More was spent, and it went into new voices:")
    return tr("Returns diminish here:")


def finding(steps: Sequence[Step], voices: Sequence[VoiceRows]) -> str:
    """Return the title of the chart: what the last of some steps brought for its cost."""
    step = steps[-1]
    heard = heard_in(voices[-1])
    told = []
    before = next((each for each, last in steps_in_turn(steps) if last is step), None)
    if before is not None and _spent(before) and _spent(step):
        ratio = number((_spent(step) or 0.0) / (_spent(before) or 1.0), 1)
        told.append(tr("{times} times the cost of {stage}", times=ratio, stage=before.stage))
    if not step.shared_voices:
        told.append(tr("no voice to set against on old voices"))
    elif heard:
        told.append(
            tr_n(
                "{n} likely audible difference on old voices",
                "{n} likely audible differences on old voices",
                heard,
            )
        )
    elif noise_heard(voices[-1]):
        told.append(tr("only noise likely audible on old voices"))
    else:
        told.append(tr("nothing likely audible on old voices"))
    if step.new_voices:
        told.append(tr_n("{n} new voice", "{n} new voices", len(names_of_new(step))))
    else:
        told.append(tr("no new voice"))
    return f"{step.stage}: {', '.join(told)}"


def _spent(step: Step) -> float | None:
    return step.money or None
