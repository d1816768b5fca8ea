"""What a step brought for what it cost, beside the step before it or the next cheaper one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tonecompare.compare.worth.work_steps import Step
from tonecompare.report.words.guitar_words.cost_words import amount, short
from tonecompare.report.words.guitar_words.step_words import (
    VoiceRows,
    heard_in,
    likely,
    names_of_new,
    noise_heard,
)
from tonecompare.report.words.numbers import count, listed, number


def gained(step: Step, voices: VoiceRows) -> str:
    """Say in one clause what a step changed and added: "made … on …; it added …"."""
    parts = {title: len(likely(rows)) for title, rows in voices.items()}
    heard = [title for title, found in parts.items() if found]
    before = f"its sister {step.before}" if step.sister else step.before
    noise = noise_heard(voices)
    shared = f"{_all_of(len(parts))} it shares with {before}"
    if not parts:
        said = f"shares no voice with {before}"
    elif not heard:
        verb = "shows" if step.sister else "changed"
        but = f" but {listed(noise)} in the pauses" if noise else ""
        said = f"{verb} nothing likely audible on {shared}{but}"
    else:
        what = count(sum(parts.values()), "likely audible difference")
        some = "" if len(heard) == len(parts) else f"{len(heard)} of "
        where = f"the {len(parts)} voices it shares with {before}" if some else shared
        beside = f", besides {listed(noise)} in the pauses" if noise else ""
        said = f"{'shows' if step.sister else 'made'} {what} on {some}{where}{beside}"
    new = names_of_new(step)
    if step.sister:
        more = f"{count(len(new), 'voice')} more ({listed(new)})" if new else "no further voice"
        return f"{said}, and has {more}"
    more = f"{count(len(new), 'voice')} ({listed(new)})" if new else "no voice"
    return f"{said}, and added {more}"


def _all_of(n: int) -> str:
    return {1: "the one voice", 2: "both voices"}.get(n, f"all {n} voices")


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
    lead = _cost_beside(earlier, later, currency)
    sisters = earlier.sister or later.sister
    warning = (
        " What two guitars of one model differ in anyway is in these numbers." if sisters else ""
    )
    return (
        f"{_judgement(earlier, later, voices)}{later.stage} {lead}; it "
        f"{gained(later, voices[1])}. {earlier.stage} {gained(earlier, voices[0])}.{warning}"
    )


def _cost_beside(earlier: Step, later: Step, currency: str) -> str:
    """Say what a step cost beside another: in money, else in parts and in hours."""
    one, other = _spent(earlier), _spent(later)
    if one and other:
        both = f"{amount(other, '')} against {amount(one, currency)}"
        return f"cost {number(other / one, 1)} times what {earlier.stage} did ({both})"
    said = []
    if earlier.parts_cost and later.parts_cost:
        both = f"{amount(later.parts_cost, '')} against {amount(earlier.parts_cost, currency)}"
        said.append(f"{number(later.parts_cost / earlier.parts_cost, 1)} times the parts ({both})")
    if earlier.hours and later.hours:
        both = f"{short(later.hours)} against {short(earlier.hours)}"
        said.append(f"{number(later.hours / earlier.hours, 1)} times the hours ({both})")
    if said:
        return f"took {listed(said)} of {earlier.stage}"
    return f"stands beside {earlier.stage}"


def _judgement(earlier: Step, later: Step, voices: tuple[VoiceRows, VoiceRows]) -> str:
    """Say in front what the numbers that follow carry, "" where they carry nothing plain.

    Of sisters nothing: what they differ in anyway is in the numbers.
    """
    one, other = _spent(earlier) or earlier.hours, _spent(later) or later.hours
    less = heard_in(voices[1]) < heard_in(voices[0])
    if earlier.sister or later.sister or not less or not other > one > 0.0:
        return ""
    if len(names_of_new(later)) > len(names_of_new(earlier)):
        return "More was spent, and it went into new voices: "
    return "Returns diminish here: "


def finding(steps: Sequence[Step], voices: Sequence[VoiceRows]) -> str:
    """Return the title of the chart: what the last of some steps brought for its cost."""
    step = steps[-1]
    heard = heard_in(voices[-1])
    said = count(heard, "likely audible difference") if heard else "nothing likely audible"
    if not heard and noise_heard(voices[-1]):
        said = "only noise likely audible"
    if not step.shared_voices:
        said = "no voice to set against"
    new = count(len(names_of_new(step)), "new voice") if step.new_voices else "no new voice"
    before = next((each for each, last in steps_in_turn(steps) if last is step), None)
    cost = ""
    if before is not None and _spent(before) and _spent(step):
        ratio = number((_spent(step) or 0.0) / (_spent(before) or 1.0), 1)
        cost = f"{ratio} times the cost of {before.stage}, "
    return f"{step.stage}: {cost}{said} on old voices, {new}"


def _spent(step: Step) -> float | None:
    return step.money or None
