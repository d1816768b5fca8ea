"""What a page of many recordings shows in full, and what it leaves to the tables.

A page grows with its voices: four charts, tables and sounds each, 150 kB and 0.8 s of drawing.
Beyond :data:`MOST_VOICES` it would be too large to open or to hand over; the tables hold everything
in any case.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.guitars.side_by_side import guitar_groups, line_of
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.worth.work_steps import Step
from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.measure.model import Measurements
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.session.model import ComparisonSpec, Session

#: Voices of comparisons that a page shows in full, one comparison at least.
MOST_VOICES = 60
#: Recordings whose stages a page shows in full.
MOST_RECORDINGS = 240


@dataclass(frozen=True)
class InFull:
    """What the page is about; ``others`` are the comparisons that it leaves to the tables."""

    session: Session
    measurements: Measurements
    comparisons: Comparisons
    worth: tuple[Step, ...]
    others: tuple[str, ...] = ()
    #: Whether anything is left to the tables.
    narrowed: bool = False


def shown_in_full(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    findings: Sequence[Finding],
    worth: Sequence[Step],
    *,
    asked: Sequence[str] = (),
) -> InFull:
    """Return what the page shows in full: everything, unless that is too much.

    Parameters
    ----------
    session, measurements, comparisons, findings, worth
        What the report is about.
    asked
        Guitars, stages or comparisons whose comparisons are to be shown, and no others. Without
        any, those that the findings speak of and then the first, until there are
        :data:`MOST_VOICES`.

    Raises
    ------
    InputError
        A name that is asked for is none of a guitar, stage or comparison that was compared.
    """
    specs = {spec.name: spec for spec in planned_comparisons(session)}
    sizes = _voices_of(comparisons)
    few = sum(sizes.values()) <= MOST_VOICES and len(session.recordings) <= MOST_RECORDINGS
    if few and not asked:
        return InFull(session, measurements, comparisons, tuple(worth))
    if asked:
        shown = _asked_for(session, specs, asked)
    else:
        told = (row.comparison for finding in findings for row in finding.rows)
        shown = list(
            _first(dict.fromkeys((*(name for name in told if name in specs), *specs)), sizes)
        )
    wanted = [spec for name, spec in specs.items() if name in shown]
    stages = set(_stages_of(session, measurements, wanted))
    if not specs:
        stages = set(_first_stages(session))
    return InFull(
        _session_of(session, wanted, stages),
        _measurements_of(measurements, stages),
        _comparisons_of(comparisons, {spec.name for spec in wanted}, stages),
        tuple(step for step in worth if step.stage in stages and step.before in stages),
        tuple(name for name in specs if name not in shown),
        narrowed=stages < set(session.stages) or len(wanted) < len(specs),
    )


def _voices_of(comparisons: Comparisons) -> Counter[str]:
    rows = comparisons.rows
    keys = set(zip(rows.comparison, rows.voice, rows.output, strict=True))
    return Counter(str(comparison) for comparison, _, _ in keys)


def _first(names: Iterable[str], sizes: Mapping[str, int]) -> Iterator[str]:
    """Yield names until their voices are as many as a page shows."""
    voices = 0
    for number, name in enumerate(names):
        voices += sizes.get(name, 0)
        if number and voices > MOST_VOICES:
            return
        yield name


def _first_stages(session: Session) -> Iterator[str]:
    recordings = Counter(recording.stage for recording in session.recordings)
    so_far = 0
    for number, name in enumerate(session.stages):
        so_far += recordings[name]
        if number and so_far > MOST_RECORDINGS:
            return
        yield name


def _asked_for(
    session: Session, specs: Mapping[str, ComparisonSpec], asked: Sequence[str]
) -> list[str]:
    names = {
        name: {name, *spec.stages, *(session.stages[one].instrument for one in spec.stages)}
        for name, spec in specs.items()
    }
    for one in asked:
        if not any(one in known for known in names.values()):
            raise InputError(
                tr(
                    "--show {name}: no guitar, stage or comparison of that name is compared in "
                    "this session. It compares, for instance: {names}.",
                    name=one,
                    names="; ".join(list(specs)[:3]) or tr("nothing"),
                )
            )
    return [name for name, known in names.items() if known & set(asked)]


def _stages_of(
    session: Session, measurements: Measurements, wanted: Sequence[ComparisonSpec]
) -> Iterator[str]:
    """Yield the stages of comparisons, their controls', and those that these rest on."""
    compared = {stage for spec in wanted for stage in spec.stages}
    yield from compared
    for spec in wanted:
        yield from filter(None, (spec.control_before, spec.control_after))
    for stage in compared:
        yield from (one.name for one in line_of(session, session.stages[stage]))
    for group in guitar_groups(session, measurements):
        if compared & set(group.stages):
            yield from (group.first, *(each.reference for each in group.voices))


def _session_of(session: Session, wanted: Sequence[ComparisonSpec], stages: set[str]) -> Session:
    return replace(
        session,
        stages={name: stage for name, stage in session.stages.items() if name in stages},
        recordings=tuple(each for each in session.recordings if each.stage in stages),
        comparisons=tuple(wanted),
    )


def _measurements_of(measurements: Measurements, stages: set[str]) -> Measurements:
    def within(table: pd.DataFrame) -> pd.DataFrame:
        return table[table["stage"].isin(stages)].reset_index(drop=True) if len(table) else table

    files = tuple(record for record in measurements.files if record.stage in stages)
    names = {record.file for record in files}
    return replace(
        measurements,
        plucks=within(measurements.plucks),
        quiet=within(measurements.quiet),
        blend=within(measurements.blend),
        voices=within(measurements.voices),
        files=files,
        curves={key: one for key, one in measurements.curves.items() if key[0] in names},
        quiet_curves={k: one for k, one in measurements.quiet_curves.items() if k[0] in names},
        blends={key: one for key, one in measurements.blends.items() if key[0] in stages},
        bands={key: one for key, one in measurements.bands.items() if key[0] in stages},
    )


def _comparisons_of(comparisons: Comparisons, names: set[str], stages: set[str]) -> Comparisons:
    """Narrow what was compared; causes keep their places, which reasons name."""
    rows, further = comparisons.rows, comparisons.further
    if further is not None:
        inside = np.isin(_text(further.rows.before), sorted(stages))
        inside &= np.isin(_text(further.rows.after), sorted(stages))
        further = _comparisons_of(further, set(further.rows.comparison[inside]), stages)
    return replace(
        comparisons,
        rows=rows.rows(np.isin(_text(rows.comparison), sorted(names))),
        notes={name: notes for name, notes in comparisons.notes.items() if name in names},
        bench=tuple(sign for sign in comparisons.bench if sign.stage in stages),
        voices=tuple(one for one in comparisons.voices if one.stage in stages),
        likenesses=tuple(one for one in comparisons.likenesses if one.stage in stages),
        recordings_of_blends=tuple(
            one for one in comparisons.recordings_of_blends if one.stage in stages
        ),
        further=further,
    )


def _text(column: NDArray[np.object_]) -> NDArray[np.str_]:
    return column.astype(str)
