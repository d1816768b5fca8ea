"""The findings of one report, made once for its page, its summary and the terminal."""

from __future__ import annotations

from tonecompare.compare.comparisons import Comparisons
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.measure.model import Measurements
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.worked_on import work_on_voices
from tonecompare.report.words.findings import find
from tonecompare.report.words.numbers import listed
from tonecompare.session.model import LeftOut, Session


def left_out(session: Session, measurements: Measurements) -> tuple[LeftOut, ...]:
    """Every recording left out, once each, and those without a pluck to compare."""
    without = _without_plucks(measurements)
    return tuple(dict.fromkeys((*session.left_out, *measurements.left_out, *without)))


def unheard(session: Session, measurements: Measurements) -> tuple[str, ...]:
    """Say which notes that ``listen`` names no recording has, () where all are there."""
    played = set(measurements.plucks["note"]) if len(measurements.plucks) else set()
    missing = [note for note in session.listen if note not in played]
    if not missing:
        return ()
    said = tr("listen in session.toml names {notes}: no recording has it.", notes=listed(missing))
    return (said,)


def _without_plucks(measurements: Measurements) -> list[LeftOut]:
    """Name the files of a voice without any pluck at a stage, when another stage has some."""
    files = measurements.files
    plucked = {(record.stage, record.voice) for record in files if record.n_plucks}
    elsewhere: dict[str, str] = {}
    for stage, voice in sorted(plucked):
        elsewhere.setdefault(voice, stage)
    return [
        LeftOut(
            record.file,
            tr_later(
                "No pluck was found in it, while {stage} has plucks of this voice: only its quiet "
                "could be compared. Record it again.",
                stage=elsewhere[record.voice],
            ),
        )
        for record in files
        if (record.stage, record.voice) not in plucked and record.voice in elsewhere
    ]


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
        missing=[
            tr_n(
                "{n} recording left out; named below with the reason",
                "{n} recordings left out; named below with the reason",
                len(missing),
            )
        ]
        if missing
        else [],
        work=work_on_voices(session),
    )
