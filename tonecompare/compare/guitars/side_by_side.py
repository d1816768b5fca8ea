"""Guitars, or stages of one, side by side: which stand in one table, and what against what.

Three or more stages that belong together (compared with each other, come from one another, or
guitars of one model) are one group. Each voice is set against the first stage that has it. What the
session's own comparisons leave out is compared beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from tonecompare.compare.planned import planned_comparisons
from tonecompare.measure.model import Measurements
from tonecompare.session.model import AGAIN, ComparisonSpec, Session, Stage

#: Fewer stages than this are one comparison, which has its own section.
FEWEST_SIDE_BY_SIDE = 3


@dataclass(frozen=True)
class VoiceBeside:
    """One voice: the first stage that has it, and the later ones that have it too."""

    voice: str
    reference: str
    others: tuple[str, ...]


@dataclass(frozen=True)
class GuitarGroup:
    """Stages that stand in one table, the one all others are set against first."""

    stages: tuple[str, ...]
    voices: tuple[VoiceBeside, ...]
    #: The later stages that are of a sister of the first one's guitar.
    sisters: tuple[str, ...]
    #: The later stages that are of another guitar, no sister of it.
    strangers: tuple[str, ...] = ()
    #: Whether nobody said which guitar any of the stages is of.
    unnamed: bool = False

    @property
    def first(self) -> str:
        """The stage the others are set against."""
        return self.stages[0]


def guitar_groups(session: Session, measurements: Measurements) -> tuple[GuitarGroup, ...]:
    """Return the groups of a session, in the order of its stages.

    Parameters
    ----------
    session, measurements
        As recorded and measured; a stage of which nothing was measured stands in no group.
    """
    present = _voices(session, measurements)
    groups = []
    for stages in _together(session, list(present)):
        if len(stages) < FEWEST_SIDE_BY_SIDE:
            continue
        stages = _first_in_front(session, stages)
        voices = dict.fromkeys(voice for name in stages for voice in present[name])
        beside = []
        for voice in voices:
            have = [name for name in stages if voice in present[name]]
            beside.append(VoiceBeside(voice, have[0], tuple(have[1:])))
        sisters = tuple(name for name in stages[1:] if session.sisters(stages[0], name))
        guitars = {name: session.stages[name].instrument for name in stages}
        groups.append(
            GuitarGroup(
                tuple(stages),
                tuple(beside),
                sisters,
                strangers=tuple(
                    name
                    for name in stages[1:]
                    if name not in sisters and guitars[name] != guitars[stages[0]]
                ),
                unnamed=not any(guitars.values()),
            )
        )
    return tuple(groups)


def further_specs(session: Session, measurements: Measurements) -> tuple[ComparisonSpec, ...]:
    """Return what the tables of guitars and of worth need and the session does not compare."""
    known = {spec.name for spec in planned_comparisons(session)}
    wanted = [
        step_spec(session, each.reference, other)
        for group in guitar_groups(session, measurements)
        for each in group.voices
        for other in each.others
    ]
    present = set(_voices(session, measurements))
    for stage in session.stages.values():
        line = line_of(session, stage)
        if len(line) > 1 and any(each.work for each in line[1:]):
            wanted += [step_spec(session, line[n].name, stage.name) for n in (0, -2)]
    return tuple(
        {
            spec.name: spec
            for spec in wanted
            if spec.name not in known and {spec.before, spec.after} <= present
        }.values()
    )


def line_of(session: Session, stage: Stage) -> list[Stage]:
    """Return the stages from the first of a stage's line to the stage itself."""
    line = [stage]
    while line[0].from_stage in session.stages and line[0].from_stage is not None:
        earlier = session.stages[line[0].from_stage]
        if earlier in line:
            break
        line.insert(0, earlier)
    return line


def step_spec(session: Session, before: str, after: str) -> ComparisonSpec:
    """Return the comparison, with the control that was recorded in the same two sessions.

    Named for the very stages, or for the same before stage and an after stage recorded under the
    same conditions.
    """
    for spec in session.comparisons:
        if (spec.before, spec.after) == (before, after):
            return spec
    conditions = session.stages[after].conditions
    for spec in session.comparisons:
        known = spec.after in session.stages and conditions is not None
        if spec.before == before and known and session.stages[spec.after].conditions == conditions:
            return replace(spec, before=before, after=after)
    return ComparisonSpec(before, after)


def _voices(session: Session, measurements: Measurements) -> dict[str, list[str]]:
    """Return the voices that each stage was measured in, stages and voices in their order."""
    found: dict[str, dict[str, None]] = {}
    for frame in (measurements.plucks, measurements.quiet):
        if len(frame):
            pairs = frame[["stage", "voice"]].drop_duplicates()
            for stage, voice in pairs.itertuples(index=False):
                if not str(voice).endswith(AGAIN):
                    found.setdefault(str(stage), {})[str(voice)] = None
    return {name: list(found[name]) for name in session.stages if name in found}


def _together(session: Session, present: Sequence[str]) -> Iterator[list[str]]:
    """Yield the stages that belong together, in the session's order."""
    group = {name: name for name in present}
    for one, other in _links(session, present):
        if one in group and other in group:
            old, new = group[other], group[one]
            group = {name: new if of == old else of for name, of in group.items()}
    for lead in dict.fromkeys(group.values()):
        yield [name for name, of in group.items() if of == lead]


def _links(session: Session, present: Sequence[str]) -> Iterator[tuple[str, str]]:
    for spec in planned_comparisons(session):
        if spec.voice is None:
            yield spec.before, spec.after
    models: dict[str, str] = {}
    for name in present:
        yield session.stages[name].from_stage or "", name
        model = session.instrument_of(name).model
        if model:
            yield models.setdefault(model, name), name


def _first_in_front(session: Session, stages: list[str]) -> list[str]:
    """Put in front the stage that none came before: not worked on, no comparison's after."""
    later = {spec.after for spec in planned_comparisons(session)}
    first = min(
        stages,
        key=lambda name: (
            name in later,
            session.stages[name].from_stage in stages,
            bool(session.stages[name].work),
            stages.index(name),
        ),
    )
    return [first, *(name for name in stages if name != first)]
