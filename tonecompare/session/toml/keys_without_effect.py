"""Keys of ``session.toml`` that are right in themselves and change nothing, each said once."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from tonecompare.language import tr_later
from tonecompare.session.model import Stage, Worth
from tonecompare.session.naming import listed
from tonecompare.session.toml.read import SessionFile
from tonecompare.session.toml.schema import dotted


def keys_without_effect(told: SessionFile, heard: Collection[str]) -> tuple[str, ...]:
    """Return a sentence for each key, or group of like keys, that nothing follows from.

    Parameters
    ----------
    told
        What ``session.toml`` says.
    heard
        The voices that were recorded.
    """
    stages = tuple(told.stages.values())
    return tuple(
        sentence
        for part in (_work(stages), _worth(told.worth, stages), _unused(told, heard))
        for sentence in part
    )


def _work(stages: Sequence[Stage]) -> Iterator[str]:
    known = {stage.name for stage in stages}
    first = [stage.name for stage in stages if stage.work and stage.from_stage not in known]
    if first:
        yield tr_later(
            "The work of {stages} has no effect on cost and worth: no stage is named that it was "
            "done on. Name the stage recorded before it as from, or leave work out.",
            stages=listed(first),
        )


def _worth(worth: Worth, stages: Sequence[Stage]) -> Iterator[str]:
    items = [item for stage in stages for item in stage.work]
    if worth != Worth() and not any(item.parts_cost or item.hours for item in items):
        yield tr_later(
            "[worth] has no effect: no work has parts_cost or hours. Write them where the work is "
            'told: work = [{ what = "rewound", parts_cost = 18, hours = 2.5 }]'
        )
    elif worth.hourly_rate is not None and not any(item.hours for item in items):
        yield tr_later("[worth] hourly_rate has no effect: no work has hours.")


def _unused(told: SessionFile, heard: Collection[str]) -> Iterator[str]:
    stages = tuple(told.stages.values())
    if stages:
        tables = (
            ("conditions", told.conditions, {stage.conditions for stage in stages}),
            ("instruments", told.instruments, {stage.instrument for stage in stages}),
        )
        for table, entries, used in tables:
            spare = [f"[{dotted(table, name)}]" for name in entries if name not in used]
            if spare:
                yield (
                    tr_later("{keys} has no effect: no stage names it.", keys=spare[0])
                    if len(spare) == 1
                    else tr_later("{keys} have no effect: no stage names it.", keys=tuple(spare))
                )
    silent = [name for name in told.voices if name not in heard]
    if silent and heard:
        names = listed(silent)
        yield (
            tr_later("{voices} is described under [voices] and recorded nowhere.", voices=names)
            if len(silent) == 1
            else tr_later(
                "{voices} are described under [voices] and recorded nowhere.", voices=names
            )
        )
