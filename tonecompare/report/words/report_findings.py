"""The findings of one report, made once for its page, its summary and the terminal."""

from __future__ import annotations

from tonecompare.compare.comparisons import Comparisons
from tonecompare.measure.model import Measurements
from tonecompare.report.words.findings import Finding, find
from tonecompare.report.words.numbers import count
from tonecompare.session.model import LeftOut, Session


def left_out(session: Session, measurements: Measurements) -> tuple[LeftOut, ...]:
    """Every recording left out, once each."""
    return tuple(dict.fromkeys((*session.left_out, *measurements.left_out)))


def report_findings(
    session: Session, measurements: Measurements, comparisons: Comparisons
) -> tuple[Finding, ...]:
    """Return what a report of these results says, the recordings it lacks included.

    Parameters
    ----------
    session, measurements, comparisons
        What was recorded, measured and compared.

    Returns
    -------
    tuple of Finding
        The most telling first, six at most. Everything that shows findings shows these.
    """
    missing = left_out(session, measurements)
    return find(
        comparisons,
        missing=[f"{count(len(missing), 'recording')} left out; named below with the reason"]
        if missing
        else [],
    )
