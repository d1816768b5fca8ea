"""Which stages to compare when nobody said so, and which unchanged instrument serves as control."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from tonecompare.language import tr_later
from tonecompare.session.model import ComparisonSpec, Stage
from tonecompare.session.naming import listed, match_key, natural_key

#: Words in a folder's name that say it is the state before, or after, the work.
_BEFORE_WORDS = frozenset(
    ("before", "stock", "original", "delivered", "unmodified", "untouched", "old", "start")
)
_AFTER_WORDS = frozenset(
    ("after", "new", "modified", "changed", "finished", "final", "converted", "done")
)

Pair = tuple[str, str]

#: Comparisons that a remark names.
_MOST_NAMED = 12


def choose_comparisons(
    stages: Mapping[str, Stage],
) -> tuple[tuple[ComparisonSpec, ...], tuple[str, ...]]:
    """Choose the comparisons of a session that names none.

    1. Each stage is compared with the one it came from (``from``), and, when that is not the
       first of its line, with the first as well: how far it is from stock.
    2. A stage without ``from`` is compared with the first of its instrument. First is by date
       when all have one, else by words ("stock", "before" … come first, "after" … last), else by
       name in natural order. Bare folders name no instrument: those whose names begin alike
       ("heron-stock", "heron-rewound") count as one instrument when every beginning occurs at
       least twice; otherwise all count as one.
    3. A worked-on instrument that was never recorded before its work, and whose stage came
       ``from`` none (of a sister), is compared with the stock stages of the others.
    4. If this gave nothing (each instrument has one stage), all are compared with the first.

    An instrument on which no work was done, recorded at two stages in the same two sessions (same
    dates, or same ``conditions`` where there are no dates) as a comparison's before and after,
    is taken as its control, if it is the only one; the two are then not compared on their own.

    Parameters
    ----------
    stages
        The stages that have recordings.

    Returns
    -------
    comparisons
        Without doubles, in the order of the stages.
    remarks
        Sentences that say what was chosen and why.
    """
    lines = _lines(stages)
    pairs = [pair for line in lines for pair in _pairs_in_line(line, stages)]
    pairs += _pairs_with_other_stock(lines)
    if not pairs:
        ordered = first_to_last(stages.values())
        pairs = [(ordered[0].name, each.name) for each in ordered[1:]]
    specs, remarks = _add_controls(list(dict.fromkeys(pairs)), stages)
    if specs:
        said = tuple(
            tr_later("{one} with {other}", one=listed([s.before]), other=listed([s.after]))
            for s in specs[:_MOST_NAMED]
        )
        if len(specs) > _MOST_NAMED:
            said = (*said, tr_later("and so on, {n} in all", n=len(specs)))
        remarks.insert(
            0,
            tr_later(
                "No comparisons were named, so these were chosen: {said:; }. Name others as "
                "[[comparisons]] in session.toml.",
                said=said,
            ),
        )
    return tuple(specs), tuple(remarks)


def first_to_last(stages: Iterable[Stage]) -> list[Stage]:
    """Return stages in the order they came about, as far as dates, ``from`` and names tell."""
    stages = list(stages)
    by_name = {stage.name: stage for stage in stages}
    dated = all(stage.date is not None for stage in stages)

    def key(stage: Stage) -> tuple[date, int, int, object]:
        day = stage.date if dated and stage.date else date.min
        steps = len(_chain(stage, by_name)) if stage.from_stage is not None else 0
        return day, steps, _word_rank(stage.name), natural_key(stage.name)

    return sorted(stages, key=key)


def stock_stages(stages: Iterable[Stage]) -> tuple[Stage, ...]:
    """Return the stages that no work led to: no ``from``, no ``work``."""
    return tuple(stage for stage in stages if stage.from_stage is None and not stage.work)


def _word_rank(name: str) -> int:
    words = set(re.split(r"[\W_]+", match_key(name)))
    return 0 if words & _BEFORE_WORDS else 2 if words & _AFTER_WORDS else 1


def _lines(stages: Mapping[str, Stage]) -> list[list[Stage]]:
    """Return the stages of each instrument, first to last."""
    groups: dict[str, list[Stage]] = {}
    unnamed: dict[str, list[Stage]] = {}
    for stage in stages.values():
        if stage.instrument:
            groups.setdefault(stage.instrument, []).append(stage)
        else:
            beginning = re.split(r"[-_. ]", match_key(stage.name))[0]
            unnamed.setdefault(beginning, []).append(stage)
    if any(len(each) < 2 for each in unnamed.values()):
        unnamed = {"": [stage for each in unnamed.values() for stage in each]}
    return [first_to_last(each) for each in (*groups.values(), *unnamed.values())]


def _pairs_in_line(line: Sequence[Stage], stages: Mapping[str, Stage]) -> list[Pair]:
    pairs = []
    for stage in line:
        if stage.from_stage is None:
            if stage is not line[0]:
                pairs.append((line[0].name, stage.name))
            continue
        chain = _chain(stage, stages)
        if len(chain) > 1:
            pairs.append((chain[1].name, stage.name))
        if len(chain) > 2:
            pairs.append((chain[-1].name, stage.name))
    return pairs


def _chain(stage: Stage, stages: Mapping[str, Stage]) -> list[Stage]:
    """Return a stage and all it came from that are at hand, itself first."""
    chain = {stage.name: stage}
    last = stage
    while (origin := stages.get(last.from_stage or "")) is not None and origin.name not in chain:
        chain[origin.name] = last = origin
    return list(chain.values())


def _pairs_with_other_stock(lines: Sequence[Sequence[Stage]]) -> list[Pair]:
    stock = [stage for line in lines for stage in stock_stages(line)]
    known = {stage.name for line in lines for stage in line}
    worked_only = [
        line
        for line in lines
        if line[0].work and not stock_stages(line) and line[0].from_stage not in known
    ]
    return [(old.name, stage.name) for line in worked_only for old in stock for stage in line]


def _add_controls(
    pairs: Sequence[Pair], stages: Mapping[str, Stage]
) -> tuple[list[ComparisonSpec], list[str]]:
    remarks = []
    specs = []
    for before, after in pairs:
        spec = ComparisonSpec(before, after)
        found = _controls_for(stages[before], stages[after], stages)
        if len(found) == 1:
            spec = replace(spec, control_before=found[0][0], control_after=found[0][1])
            remarks.append(
                tr_later(
                    "{names} are one unchanged instrument in the same two sessions, so they were "
                    "taken as control of {one} with {other}.",
                    names=listed(found[0]),
                    one=listed([before]),
                    other=listed([after]),
                )
            )
        elif found:
            remarks.append(
                tr_later(
                    "Several instruments could be the control of {one} with {other}; none was "
                    "taken. Name one as control_before and control_after.",
                    one=listed([before]),
                    other=listed([after]),
                )
            )
        specs.append(spec)
    used = {(spec.control_before, spec.control_after) for spec in specs}
    return [spec for spec in specs if (spec.before, spec.after) not in used], remarks


def _controls_for(before: Stage, after: Stage, stages: Mapping[str, Stage]) -> list[Pair]:
    if not before.instrument or before.instrument != after.instrument or _together(before, after):
        return []
    if not any(stage.work for stage in _chain(after, stages)):
        return []
    worked_on = {stage.instrument for stage in stages.values() if stage.work}
    others = [s for s in stages.values() if s.instrument and s.instrument not in worked_on]
    return [
        (first.name, second.name)
        for first in others
        for second in others
        if first is not second
        and first.instrument == second.instrument
        and _together(first, before)
        and _together(second, after)
    ]


def _together(one: Stage, other: Stage) -> bool:
    """Tell whether two stages were recorded in one session, as far as was said."""
    if one.date is not None and other.date is not None:
        conflict = one.conditions and other.conditions and one.conditions != other.conditions
        return one.date == other.date and not conflict
    return one.conditions is not None and one.conditions == other.conditions
