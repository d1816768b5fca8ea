"""Was it worth it: what each step of work cost against how far it moved the sound.

For every stage that work led to, the voices it added with their distance from the nearest old one,
and its distance from the stage before and from the first of its line, family by family in hearing
thresholds: level, spectral shape, decay and hum. It is read off the differences with what else
explains them taken out (another picking place is no work). The shape is that of the octave band
that moved most. A distance is a mean over the voices that the two stages share, one and the same
wherever it is shown. No single score, and more is not called better: the owner's own ratings stand
beside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.repeat_drift import first_recordings
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.guitars.side_by_side import line_of
from tonecompare.compare.response.spectral_distance import Key, nearest, shapes_of, voices_at
from tonecompare.compare.run import compare_session
from tonecompare.compare.thresholds import threshold_of
from tonecompare.language import tr_later
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import quantity_of
from tonecompare.session.model import ComparisonSpec, Session, Stage

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
    #: Voices, by name, that this stage shares with the one before.
    shared_voices: tuple[str, ...]
    #: The owner's rating by voice: (at stock, here), None where not given.
    ratings: Mapping[str, tuple[float | None, float | None]]
    #: Kinds of confounds found between the stage before and this one.
    confounds: tuple[str, ...]
    #: Whether the stage before is one of a sister's.
    sister: bool = False

    @property
    def comparison(self) -> str:
        """Name of the comparison of the stage before with this one."""
        return ComparisonSpec(self.before, self.stage).name


def find_worth(
    session: Session, measurements: Measurements, comparisons: Comparisons | None = None
) -> tuple[Step, ...]:
    """Return the steps of all instruments, in the order of the session's stages.

    Parameters
    ----------
    session
        Stages with the stage they came from and the work done.
    measurements
        Tables and curves of all of them.
    comparisons
        What comparing the session gave; made here when left out.

    Returns
    -------
    tuple of Step
        Empty when no stage names the stage it came from.
    """
    lines = [(stage, line_of(session, stage)) for stage in session.stages.values()]
    steps = [(stage, line) for stage, line in lines if len(line) > 1 and _worked(line)]
    if not steps:
        return ()
    if comparisons is None:
        comparisons = compare_session(session, measurements)
    measurements = first_recordings(measurements)
    shapes = shapes_of(measurements)
    return tuple(
        _step(session, measurements, comparisons, shapes, stage, line) for stage, line in steps
    )


def _worked(line: Sequence[Stage]) -> bool:
    return any(stage.work for stage in line[1:])


def _step(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    shapes: Mapping[Key, Mapping[str, FloatArray]],
    stage: Stage,
    line: Sequence[Stage],
) -> Step:
    stock, before = line[0], line[-2]
    parts, hours = _cost(stage)
    totals = [_cost(each) for each in line[1:]]
    rate = session.worth.hourly_rate
    shared = _shared(measurements, before, stage)
    name = ComparisonSpec(before.name, stage.name).name
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
        from_stock=_distances(session, measurements, comparisons, stock, stage),
        from_before=_distances(session, measurements, comparisons, before, stage),
        new_voices=_new_voices(measurements, shapes, before, stage),
        shared_voices=tuple(dict.fromkeys(voice for voice, _ in shared)),
        ratings=_ratings(stock, stage),
        confounds=tuple(
            dict.fromkeys(
                each.kind
                for each in comparisons.holding(name).confounds
                if each.found and each.comparison == name
            )
        ),
        sister=session.sisters(before.name, stage.name),
    )


def _shared(measurements: Measurements, before: Stage, after: Stage) -> tuple[tuple[str, str], ...]:
    """Return the (voice, output) pairs that both stages have, in the order of the first."""
    one, other = (
        [(voice, output) for _, voice, output in voices_at(measurements.plucks, stage.name)]
        for stage in (before, after)
    )
    return tuple(pair for pair in one if pair in other)


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
    measurements: Measurements,
    comparisons: Comparisons,
    before: Stage,
    after: Stage,
) -> tuple[Distance, ...]:
    voices = _shared(measurements, before, after)
    name = ComparisonSpec(before.name, after.name).name
    rows = comparisons.holding(name).differences
    rows = rows[(rows["comparison"] == name) & (rows["note"] == "all")]
    taken = [key in voices for key in zip(rows["voice"], rows["output"], strict=True)]
    rows = _adjusted(rows[np.array(taken, dtype=bool)])
    return tuple(
        _shape(session, rows) if family == "shape" else _difference(session, rows, family)
        for family in FAMILIES
    )


def _adjusted(rows: pd.DataFrame) -> pd.DataFrame:
    """Return known differences, what explains them beside the work taken out where it was."""
    names = ("difference", "ci_low", "ci_high")
    told = rows.assign(
        **{
            name: rows[f"{name}_adjusted"].where(rows[f"{name}_adjusted"].notna(), rows[name])
            for name in names
        }
    )
    return told[told[list(names)].notna().all(axis=1)]


def _difference(session: Session, rows: pd.DataFrame, family: str) -> Distance:
    """Mean over voices of |difference| in hearing thresholds, with the mean interval's ends."""
    quantity, unit = _QUANTITY[family]
    known = rows[(rows["quantity"] == quantity) & (rows["unit"] == unit)]
    if not len(known):
        return Distance(family, None, None, None, 0, reason=tr_later("not measured in both"))
    ends = known[["ci_low", "difference", "ci_high"]].to_numpy(dtype=float)
    scaled = _in_thresholds(ends, quantity, session.hearing_thresholds)
    crosses = (scaled[:, 0] <= 0.0) & (scaled[:, 2] >= 0.0)
    sizes = np.abs(scaled)
    low = np.where(crosses, 0.0, np.minimum(sizes[:, 0], sizes[:, 2]))
    high = np.maximum(sizes[:, 0], sizes[:, 2])
    return Distance(
        family, float(sizes[:, 1].mean()), float(low.mean()), float(high.mean()), len(known)
    )


def _in_thresholds(values: FloatArray, quantity: str, overrides: Mapping[str, float]) -> FloatArray:
    """Scale differences by the hearing threshold; decay on a log scale, each side by its own."""
    threshold = threshold_of(quantity_of(quantity), overrides=overrides)
    assert threshold is not None  # every family here has one
    below, above = threshold.below, threshold.above
    if quantity != _QUANTITY["decay"][0]:
        return np.where(values < 0.0, values / below, values / above)
    log_ratio = np.log(np.maximum(1.0 + values / 100.0, 1e-3))
    shorter = -np.log(max(1.0 - below / 100.0, 1e-3))
    longer = np.log1p(above / 100.0)
    return np.asarray(np.where(log_ratio < 0.0, log_ratio / shorter, log_ratio / longer))


def _shape(session: Session, rows: pd.DataFrame) -> Distance:
    """Mean over the voices of the octave band that moved most, each against all bands together.

    Of a band's difference ``d`` with the half width ``h`` of its interval ``sqrt(d² - h²)`` counts,
    nothing where ``h`` is larger: among eight bands the one known worst would else seem to have
    moved most.
    """
    found = []
    for _, bands in rows[rows["family"] == "shape"].groupby(["voice", "output"], sort=False):
        ends = bands[["ci_low", "difference", "ci_high"]].to_numpy(dtype=float)
        names = bands["quantity"].astype(str)
        scaled = np.array(
            [
                _in_thresholds(each, name, session.hearing_thresholds)
                for each, name in zip(ends, names, strict=True)
            ]
        )
        low, size, high = scaled.T
        shown = np.sqrt(np.maximum(size**2 - (0.5 * (high - low)) ** 2, 0.0))
        near = np.where(low * high > 0.0, np.minimum(np.abs(low), np.abs(high)), 0.0)
        found.append((shown.max(), near.max(), np.maximum(np.abs(low), np.abs(high)).max()))
    if not found:
        return Distance("shape", None, None, None, 0, reason=tr_later("not measured in both"))
    value, near_end, far_end = (float(column) for column in np.array(found).mean(axis=0))
    return Distance("shape", value, near_end, far_end, len(found))


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
