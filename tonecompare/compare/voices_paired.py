"""Two voices side by side: measurements in which the before side carries the after side's voice.

Everything that compares works by stage, voice and output. Where a comparison names a voice on each
side, its two sides stand here as stages of their own, called ``stage/voice``, and what was measured
of the before side stands under the after side's voice: so levels, curves, quiet, causes and
response pair without knowing of it. Outputs of the same kind meet; where each side has one output
and they differ (magnetic against piezo), the before side's stands under the after side's too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import pandas as pd

from tonecompare.compare.planned import planned_comparisons
from tonecompare.measure.model import FileRecord, Measurements
from tonecompare.measure.resonances import SharedRelease
from tonecompare.measure.table import MeasuredSubject, MeasurementTable
from tonecompare.session.model import ComparedSide, ComparisonSpec, Session


@dataclass(frozen=True)
class _Renamed:
    """What was measured of ``side`` under its own name as a stage, and under another voice."""

    side: ComparedSide
    voice: str
    outputs: tuple[tuple[str, str], ...]

    def output(self, name: str) -> str:
        return dict(self.outputs).get(name, name)


def with_sides(session: Session, measurements: Measurements) -> tuple[Session, Measurements]:
    """Return session and measurements with the sides of comparisons between voices as stages.

    Parameters
    ----------
    session, measurements
        As recorded and measured.

    Returns
    -------
    session, measurements
        The same objects when no comparison names a voice; else with a stage more per side and the
        rows of it after all others.
    """
    renamed = tuple(dict.fromkeys(_renamed(session, measurements)))
    if not renamed:
        return session, measurements
    stages = {
        one.side.name: replace(session.stages[one.side.stage], name=one.side.name)
        for one in renamed
    }
    table = measurements.table
    return (
        replace(session, stages={**session.stages, **stages}),
        replace(
            measurements,
            plucks=_with_rows(measurements.plucks, renamed),
            quiet=_with_rows(measurements.quiet, renamed),
            voices=_with_rows(measurements.voices, renamed),
            files=(*measurements.files, *_files(measurements.files, renamed)),
            table=MeasurementTable((*table.subjects, *_subjects(table.subjects, renamed))),
            releases=tuple(_known_as(release, renamed) for release in measurements.releases),
        ),
    )


def of_comparison(measurements: Measurements, spec: ComparisonSpec) -> Measurements:
    """Return what a comparison may look at: all of it, or the one voice of both sides."""
    if spec.voice is None:
        return measurements
    plucks, quiet, voices = (
        frame[frame["voice"] == spec.voice] if len(frame) else frame
        for frame in (measurements.plucks, measurements.quiet, measurements.voices)
    )
    files = tuple(file for file in measurements.files if file.voice == spec.voice)
    return replace(measurements, plucks=plucks, quiet=quiet, voices=voices, files=files)


def _renamed(session: Session, measurements: Measurements) -> Iterator[_Renamed]:
    for spec in planned_comparisons(session):
        before, after = spec.sides
        if before.voice is None or after.voice is None:
            continue
        mine, theirs = (_outputs(measurements, side) for side in (before, after))
        crossed = len(mine) == len(theirs) == 1 and mine != theirs
        yield _Renamed(before, after.voice, ((mine[0], theirs[0]),) if crossed else ())
        yield _Renamed(after, after.voice, ())


def _outputs(measurements: Measurements, side: ComparedSide) -> list[str]:
    names: dict[str, None] = {}
    for frame in (measurements.plucks, measurements.quiet):
        if len(frame):
            names |= dict.fromkeys(frame.loc[_of(frame, side), "output"].astype(str))
    return list(names)


def _of(frame: pd.DataFrame, side: ComparedSide) -> pd.Series:
    return (frame["stage"] == side.stage) & (frame["voice"] == side.voice)


def _with_rows(frame: pd.DataFrame, renamed: Iterable[_Renamed]) -> pd.DataFrame:
    if not len(frame):
        return frame
    added = [_put(frame[_of(frame, one.side)], one) for one in renamed]
    return pd.concat([frame, *added], ignore_index=True)


def _put(rows: pd.DataFrame, one: _Renamed) -> pd.DataFrame:
    outputs = rows["output"].map(one.output).astype(object)
    return rows.assign(stage=one.side.name, voice=one.voice, output=outputs)


def _files(files: Iterable[FileRecord], renamed: Iterable[_Renamed]) -> Iterator[FileRecord]:
    by_side: dict[tuple[str, str | None], list[FileRecord]] = {}
    for file in files:
        by_side.setdefault((file.stage, file.voice), []).append(file)
    for one in renamed:
        for file in by_side.get((one.side.stage, one.side.voice), ()):
            yield replace(file, stage=one.side.name, voice=one.voice)


def _known_as(release: SharedRelease, renamed: Iterable[_Renamed]) -> SharedRelease:
    return release.known_as(
        {
            (one.side.name, one.voice, one.output(output)): (stage, voice, output)
            for one in renamed
            for stage, voice, output in release.keys
            if (stage, voice) == (one.side.stage, one.side.voice)
        }
    )


def _subjects(
    subjects: tuple[MeasuredSubject, ...], renamed: Iterable[_Renamed]
) -> Iterator[MeasuredSubject]:
    for one in renamed:
        for each in subjects:
            subject = each.subject
            if (subject.stage, subject.voice) == (one.side.stage, one.side.voice):
                yield replace(
                    each,
                    subject=replace(
                        subject,
                        stage=one.side.name,
                        voice=one.voice,
                        output=one.output(subject.output),
                    ),
                )
