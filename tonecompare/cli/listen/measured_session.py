"""A session measured and compared, for the commands that show or play it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tonecompare.cli.options import (
    default_out,
    language_option,
    mains_option,
    progress_option,
    speak,
    tuning_option,
    workers_option,
)
from tonecompare.cli.shown.progress import Progress
from tonecompare.language import tr

if TYPE_CHECKING:
    from tonecompare.compare.comparisons import Comparisons
    from tonecompare.measure.model import Measurements
    from tonecompare.report import Finding
    from tonecompare.session.model import Session

_F = TypeVar("_F", bound=Callable[..., Any])


@dataclass(frozen=True)
class MeasuredSession:
    """What was recorded, measured, compared and found, and where what is made of it goes."""

    session: Session
    measurements: Measurements
    comparisons: Comparisons
    findings: tuple[Finding, ...]
    out: Path


def listening_options(function: _F) -> _F:
    """Add what chooses comparisons, voices and notes, and how a session is measured."""
    named = click.option(
        "--comparison", "comparisons", multiple=True, metavar="NAME",
        help='Only this comparison, like "heron-stock to heron-rewound".',
    )  # fmt: skip
    voice = click.option("--voice", "voices", multiple=True, metavar="NAME", help="Only this one.")
    note = click.option("--note", "notes", multiple=True, metavar="NOTE", help="Only this note.")
    measuring = language_option(
        mains_option(tuning_option(workers_option(progress_option(function))))
    )
    return named(voice(note(measuring)))


def measured_session(
    folder: Path,
    *,
    mains_hz: float | None,
    tuning: str | None,
    spoken: str | None,
    workers: int,
    progress: bool | None,
    out: Path | None,
    ending: str,
    check: Callable[[Path], None],
) -> MeasuredSession:
    """Measure and compare a session.

    What is made of it goes to ``out``, or else beside the usual report under its name with
    ``ending``; ``check`` is called with that before anything is measured, and raises when it
    cannot be written there.

    Raises
    ------
    InputError
        When the folder is no session, or nothing in it can be measured.
    """
    from dataclasses import replace

    from tonecompare.compare import compare_session
    from tonecompare.compare.planned import with_voice_pairs
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.kept.store import user_store
    from tonecompare.measure import measure_session
    from tonecompare.report import report_findings
    from tonecompare.session import load_session
    from tonecompare.session.tunings import with_tuning

    session = with_tuning(load_session(folder), tuning)
    speak(spoken, session)
    if mains_hz is not None:
        session = replace(session, mains_hz=mains_hz)
    plain = default_out(session.title)
    place = out if out is not None else plain.with_name(f"{plain.name}{ending}")
    check(place)
    with Progress(progress) as shown:
        measurements = measure_session(session, workers=workers, progress=shown, store=user_store())
        refuse_nothing_measured(measurements)
        session = with_voice_pairs(session, measurements)
        shown.step(tr("Comparing"))
        comparisons = compare_session(session, measurements, workers=workers)
        findings = report_findings(session, measurements, comparisons)
    return MeasuredSession(session, measurements, comparisons, findings, place)
