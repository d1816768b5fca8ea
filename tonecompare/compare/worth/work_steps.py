"""Was it worth it: what each step of work cost against how far it moved the sound.

For every stage that work led to, its distance from the stock stage of its line and from the stage
before, family by family in hearing thresholds: level, spectral shape (level-matched, ERB bands),
decay and hum; the voices it added with their distance from the nearest old one; and what a free
adjustment (an equaliser) would have given of the change. No single score, and more is not called
better: the owner's own ratings stand beside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.repeat_drift import first_recordings
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.response.spectral_distance import (
    Key,
    nearest,
    shape_distance,
    shapes_of,
    voices_at,
)
from tonecompare.compare.run import compare_session
from tonecompare.compare.thresholds import threshold_of
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import quantity_of
from tonecompare.session.model import ComparisonSpec, Session, Stage

#: A response that moved less than this (RMS over frequency) gives an equaliser nothing to do.
LEAST_RESPONSE_DB = 1.0
#: Families in the order they are shown, with the difference each is read from.
FAMILIES = ("level", "shape", "decay", "hum")
_QUANTITY = {"level": ("level_dbfs", "dB"), "decay": ("decay_s", "%"), "hum": ("hum_dbfs", "dB")}


@dataclass(frozen=True)
class Distance:
    """A stage's distance in one family, in hearing thresholds, always positive or None.

    Mean over the voices both stages share; ``n_voices`` of them.
    """

    family: str
    value: float | None
    ci_low: float | None
    ci_high: float | None
    n_voices: int
    reason: str = ""
    #: The value of each voice alone, by its title (voice, or voice and output).
    by_voice: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class NewVoice:
    """A voice the stage added, and how far it lies from the nearest voice there was before."""

    voice: str
    output: str
    nearest: str
    distance: float | None
    ci_low: float | None
    ci_high: float | None


@dataclass(frozen=True)
class Step:
    """One stage that work led to."""

    stage: str
    instrument: str
    stock: str
    before: str
    work: tuple[str, ...]
    parts_cost: float
    hours: float
    #: Parts and hours times the hourly rate; None without a rate while hours were spent.
    money: float | None
    total_money: float | None
    total_hours: float
    from_stock: tuple[Distance, ...]
    from_before: tuple[Distance, ...]
    new_voices: tuple[NewVoice, ...]
    #: Share of the response's change an equaliser would have given, by voice.
    free_share: Mapping[str, float]
    #: The owner's rating by voice: (at stock, here), None where not given.
    ratings: Mapping[str, tuple[float | None, float | None]]
    #: Kinds of confounds found between stock and this stage.
    confounds: tuple[str, ...]


def find_worth(session: Session, measurements: Measurements) -> tuple[Step, ...]:
    """Return the steps of all instruments, in the order of the session's stages.

    Parameters
    ----------
    session
        Stages with the stage they came from and the work done.
    measurements
        Tables and curves of all of them.

    Returns
    -------
    tuple of Step
        Empty when no stage names the stage it came from.
    """
    lines = [(stage, _line_of(session, stage)) for stage in session.stages.values()]
    steps = [(stage, line) for stage, line in lines if len(line) > 1 and _worked(line)]
    if not steps:
        return ()
    specs: dict[str, ComparisonSpec] = {}
    for stage, line in steps:
        for before in (line[0].name, line[-2].name):
            spec = _spec(session, before, stage.name)
            specs[spec.name] = spec
    comparisons = compare_session(replace(session, comparisons=tuple(specs.values())), measurements)
    measurements = first_recordings(measurements)
    shapes = shapes_of(measurements)
    return tuple(
        _step(
            session,
            measurements,
            comparisons,
            shapes,
            stage,
            line,
            _common(session, measurements, stage),
        )
        for stage, line in steps
    )


def _line_of(session: Session, stage: Stage) -> list[Stage]:
    """Return the stages from the stock one to this one."""
    line = [stage]
    while line[0].from_stage in session.stages and line[0].from_stage is not None:
        earlier = session.stages[line[0].from_stage]
        if earlier in line:
            break
        line.insert(0, earlier)
    return line


def _worked(line: Sequence[Stage]) -> bool:
    return any(stage.work for stage in line[1:])


def _spec(session: Session, before: str, after: str) -> ComparisonSpec:
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


def _step(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    shapes: Mapping[Key, Mapping[str, FloatArray]],
    stage: Stage,
    line: Sequence[Stage],
    of_line: frozenset[tuple[str, str]],
) -> Step:
    stock, before = line[0], line[-2]
    parts, hours = _cost(stage)
    totals = [_cost(each) for each in line[1:]]
    rate = session.worth.hourly_rate
    from_stock = f"{stock.name} to {stage.name}"
    return Step(
        stage=stage.name,
        instrument=stage.instrument,
        stock=stock.name,
        before=before.name,
        work=tuple(item.what for item in stage.work),
        parts_cost=parts,
        hours=hours,
        money=_money(parts, hours, rate),
        total_money=_money(sum(p for p, _ in totals), sum(h for _, h in totals), rate),
        total_hours=sum(h for _, h in totals),
        from_stock=_distances(session, comparisons, shapes, stock, stage, of_line),
        from_before=_distances(
            session, comparisons, shapes, before, stage, _shared(measurements, [before, stage])
        ),
        new_voices=_new_voices(measurements, shapes, before, stage),
        free_share={
            each.voice: each.share
            for each in comparisons.equalisers
            if each.comparison == from_stock and each.rms_before_db >= LEAST_RESPONSE_DB
        },
        ratings=_ratings(stock, stage),
        confounds=tuple(
            dict.fromkeys(
                each.kind
                for each in comparisons.confounds
                if each.found and each.comparison == from_stock
            )
        ),
    )


def _shared(measurements: Measurements, stages: Sequence[Stage]) -> frozenset[tuple[str, str]]:
    """Return the (voice, output) pairs that all of some stages have."""
    each = [
        {(voice, output) for _, voice, output in voices_at(measurements.plucks, stage.name)}
        for stage in stages
    ]
    return frozenset(set.intersection(*each)) if each else frozenset()


def _common(
    session: Session, measurements: Measurements, stage: Stage
) -> frozenset[tuple[str, str]]:
    """Return the voices that every stage of a stage's line has, later ones included.

    Distances along a line are taken over the same voices at every step, so that a voice recorded
    at one stage only does not look like a change; where no voice runs through, those that the
    stage shares with stock.
    """
    stock = _line_of(session, stage)[0]
    whole = [each for each in session.stages.values() if _line_of(session, each)[0] == stock]
    through = _shared(measurements, whole)
    return through or _shared(measurements, [stock, stage])


def _cost(stage: Stage) -> tuple[float, float]:
    return sum(item.parts_cost for item in stage.work), sum(item.hours for item in stage.work)


def _money(parts: float, hours: float, rate: float | None) -> float | None:
    if rate is None:
        return parts if hours == 0.0 else None
    return parts + hours * rate


def _ratings(stock: Stage, stage: Stage) -> dict[str, tuple[float | None, float | None]]:
    voices = dict.fromkeys([*stock.ratings, *stage.ratings])
    return {voice: (stock.ratings.get(voice), stage.ratings.get(voice)) for voice in voices}


def _distances(
    session: Session,
    comparisons: Comparisons,
    shapes: Mapping[Key, Mapping[str, FloatArray]],
    before: Stage,
    after: Stage,
    voices: frozenset[tuple[str, str]],
) -> tuple[Distance, ...]:
    rows = comparisons.differences
    rows = rows[(rows["comparison"] == f"{before.name} to {after.name}") & (rows["note"] == "all")]
    taken = [key in voices for key in zip(rows["voice"], rows["output"], strict=True)]
    rows = rows[np.array(taken, dtype=bool)]
    found = []
    for family in FAMILIES:
        if family == "shape":
            found.append(_shape(shapes, before.name, after.name, voices))
        else:
            found.append(_difference(session, rows, family))
    return tuple(found)


def _difference(session: Session, rows: pd.DataFrame, family: str) -> Distance:
    """Mean over voices of |difference| in hearing thresholds, with the mean interval's ends."""
    quantity, unit = _QUANTITY[family]
    known = rows[(rows["quantity"] == quantity) & (rows["unit"] == unit)]
    known = known[known["difference"].notna() & known["ci_low"].notna() & known["ci_high"].notna()]
    if not len(known):
        return Distance(family, None, None, None, 0, reason="not measured in both")
    ends = known[["ci_low", "difference", "ci_high"]].to_numpy(dtype=float)
    scaled = _in_thresholds(ends, family, session.hearing_thresholds)
    crosses = (scaled[:, 0] <= 0.0) & (scaled[:, 2] >= 0.0)
    sizes = np.abs(scaled)
    low = np.where(crosses, 0.0, np.minimum(sizes[:, 0], sizes[:, 2]))
    high = np.maximum(sizes[:, 0], sizes[:, 2])
    return Distance(
        family, float(sizes[:, 1].mean()), float(low.mean()), float(high.mean()), len(known),
        by_voice=dict(zip(known["voice"].astype(str), sizes[:, 1].tolist(), strict=True)),
    )  # fmt: skip


def _in_thresholds(values: FloatArray, family: str, overrides: Mapping[str, float]) -> FloatArray:
    """Scale differences by the hearing threshold; decay on a log scale, each side by its own."""
    threshold = threshold_of(quantity_of(_QUANTITY[family][0]), overrides=overrides)
    assert threshold is not None  # every family here has one
    below, above = threshold.below, threshold.above
    if family != "decay":
        return np.where(values < 0.0, values / below, values / above)
    log_ratio = np.log(np.maximum(1.0 + values / 100.0, 1e-3))
    shorter = -np.log(max(1.0 - below / 100.0, 1e-3))
    longer = np.log1p(above / 100.0)
    return np.asarray(np.where(log_ratio < 0.0, log_ratio / shorter, log_ratio / longer))


def _shape(
    shapes: Mapping[Key, Mapping[str, FloatArray]],
    before: str,
    after: str,
    voices: frozenset[tuple[str, str]],
) -> Distance:
    """Mean over the voices both stages have of the distance in spectral shape."""
    found = []
    for voice, output in sorted(voices):
        one, other = (before, voice, output), (after, voice, output)
        if one in shapes and other in shapes:
            found.append((voice, shape_distance(shapes[one], shapes[other])))
    known = [(voice, each) for voice, each in found if each.value is not None]
    if not known:
        return Distance("shape", None, None, None, 0, reason="not measured in both")
    ends = np.array([(each.value, each.ci_low, each.ci_high) for _, each in known], dtype=float)
    value, low, high = (float(column) for column in ends.mean(axis=0))
    alone = {voice: float(each.value) for voice, each in known if each.value is not None}
    return Distance("shape", value, low, high, len(known), by_voice=alone)


def _new_voices(
    measurements: Measurements,
    shapes: Mapping[Key, Mapping[str, FloatArray]],
    before: Stage,
    after: Stage,
) -> tuple[NewVoice, ...]:
    old = voices_at(measurements.plucks, before.name)
    names = {voice for _, voice, _ in old}
    found = []
    for key in voices_at(measurements.plucks, after.name):
        if key[1] in names:
            continue
        near = nearest(shapes, key, old)
        if near is None:
            found.append(NewVoice(key[1], key[2], "", None, None, None))
        else:
            (_, voice, _), distance = near
            found.append(
                NewVoice(key[1], key[2], voice, distance.value, distance.ci_low, distance.ci_high)
            )
    return tuple(found)
