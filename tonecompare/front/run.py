"""The calls of a script: measure recordings, compare stages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.compare import compare_session, find_worth
from tonecompare.compare.planned import with_voice_pairs
from tonecompare.errors import InputError
from tonecompare.front.results import ComparedSession, MeasuredFiles
from tonecompare.language import tr
from tonecompare.measure import measure_session
from tonecompare.measure.model import Measurements
from tonecompare.report.words.report_findings import report_findings
from tonecompare.session.folders import find_recordings
from tonecompare.session.load import load_session, session_from_pair
from tonecompare.session.model import Recording, Session, Stage
from tonecompare.session.tunings import with_tuning


def measure(
    *paths: Path | str | Iterable[Path | str],
    tuning: str | Sequence[str] | None = None,
    a4_hz: float | None = None,
    mains_hz: float | None = None,
    workers: int = 1,
) -> MeasuredFiles:
    """Measure recordings.

    Parameters
    ----------
    paths
        One or more sound files, or folders of sound files, a file per voice.
    tuning
        Open strings, lowest first: a name ("bass"), "B0,E1,A1,D2,G2" or a list of notes. It
        settles the string numbers; standard guitar tuning when left out.
    a4_hz
        Pitch of A4 in Hz; 440 when left out.
    mains_hz
        Mains frequency in Hz; found in each recording when left out.
    workers
        Recordings measured at a time.

    Returns
    -------
    MeasuredFiles
        ``plucks`` (a row per pluck and channel), ``quiet`` and ``blend`` as DataFrames; units
        stand in the column names, levels are in dBFS.

    Raises
    ------
    InputError
        When a path does not exist or nothing in it can be measured; the message says why.

    Examples
    --------
    >>> import tonecompare as tc
    >>> tc.measure("before/neck.wav")
    MeasuredFiles: 1 recording, 6 plucks, 1 quiet stretch
    >>> sorted(set(tc.measure("before").plucks["note"]))
    ['A2', 'E2']
    """
    listed = [
        Path(path)
        for given in paths
        for path in ([given] if isinstance(given, (str, Path)) else given)
    ]
    if not listed:
        raise InputError(tr('measure: give a sound file or a folder, like measure("neck.wav").'))
    session = _told(_session_of(listed), tuning=tuning, a4_hz=a4_hz, mains_hz=mains_hz)
    measurements = _measured(session, workers)
    return MeasuredFiles(session, measurements)


def compare(
    before: Path | str,
    after: Path | str,
    *,
    tuning: str | Sequence[str] | None = None,
    a4_hz: float | None = None,
    mains_hz: float | None = None,
    workers: int = 1,
) -> ComparedSession:
    """Compare two folders of recordings, one per voice, matched by file name.

    Parameters
    ----------
    before, after
        Stage folders.
    tuning, a4_hz, mains_hz, workers
        As for :func:`measure`.

    Returns
    -------
    ComparedSession
        ``differences`` (DataFrame), ``findings`` (sentences with their rows), ``voices`` (names),
        ``plot`` (every chart), ``save``.

    Raises
    ------
    InputError
        When a folder cannot be used, no voice is common to both or nothing can be measured.

    Examples
    --------
    >>> import tonecompare as tc
    >>> r = tc.compare("before", "after")
    >>> r.voices
    ('bridge', 'neck')
    >>> level = r.differences.query("quantity == 'level_dbfs' and note == 'all'")
    >>> round(level.set_index("voice")["difference"]["neck"])
    -6
    >>> r.plot.spectrum("neck").savefig("neck.png")
    >>> r.save("heron.tc").name
    'heron.tc'
    """
    return _compared(session_from_pair(Path(before), Path(after)), tuning, a4_hz, mains_hz, workers)


def report(
    session: Path | str,
    *,
    tuning: str | Sequence[str] | None = None,
    a4_hz: float | None = None,
    mains_hz: float | None = None,
    workers: int = 1,
) -> ComparedSession:
    """Measure and compare a whole session folder: every stage, voice and comparison.

    Parameters
    ----------
    session
        A folder with a sub-folder per stage and, if you like, a ``session.toml``.
    tuning, a4_hz, mains_hz, workers
        As for :func:`measure`; they overrule ``session.toml``.

    Returns
    -------
    ComparedSession
        As for :func:`compare`; ``write`` puts the report folder somewhere.

    Raises
    ------
    InputError
        When the folder cannot be used or nothing in it can be measured.

    Examples
    --------
    >>> import tonecompare as tc
    >>> tc.report(".").session.comparisons[0].name
    'before to after'
    """
    return _compared(load_session(Path(session)), tuning, a4_hz, mains_hz, workers)


def session_of_files(paths: Sequence[Path]) -> Session:
    """Return a session of one nameless stage whose voices are the files' names.

    Files of the same name in different folders become voices of their own (``neck``,
    ``neck (2)``). No comparison is made of such a stage.
    """
    seen: Counter[str] = Counter()
    recordings = []
    for path in dict.fromkeys(paths):
        seen[path.stem] += 1
        again = f" ({seen[path.stem]})" if seen[path.stem] > 1 else ""
        recordings.append(Recording("", path.stem + again, (path,)))
    return Session("measure", Path(), {"": Stage("", "", Path())}, tuple(recordings))


def refuse_nothing_measured(measurements: Measurements) -> None:
    """Raise :class:`InputError` with each file's reason when nothing could be measured."""
    if len(measurements.plucks) or len(measurements.quiet):
        return
    reasons = "".join(
        f"\n  {'' if one.names_its_file else f'{one.file}: '}{tr(one.reason)}"
        for one in measurements.left_out
    )
    raise InputError(tr("Not one recording could be measured.") + reasons)


def _session_of(paths: Sequence[Path]) -> Session:
    files: list[Path] = []
    for path in paths:
        if path.is_dir():
            recordings, left_out = find_recordings(path)
            if not recordings:
                why = "".join(f"\n  {one.file}: {one.reason}" for one in left_out)
                raise InputError(
                    tr("{path}: holds no recording that can be measured.{why}", path=path, why=why)
                )
            files.extend(file for one in recordings for file in one.files)
        else:
            files.append(path)
    return session_of_files(files)


def _told(
    session: Session,
    *,
    tuning: str | Sequence[str] | None,
    a4_hz: float | None,
    mains_hz: float | None,
) -> Session:
    session = with_tuning(session, tuning)
    if a4_hz is not None:
        if not 300.0 <= a4_hz <= 600.0:
            raise InputError(
                tr("a4_hz={a4_hz:g}: the pitch of A4 in Hz, near 440, is meant.", a4_hz=a4_hz)
            )
        session = replace(session, a4_hz=float(a4_hz))
    if mains_hz is not None:
        if mains_hz not in (50, 60):
            raise InputError(
                tr("mains_hz={mains_hz:g}: the mains is 50 or 60 Hz.", mains_hz=mains_hz)
            )
        session = replace(session, mains_hz=float(mains_hz))
    return session


def _measured(session: Session, workers: int) -> Measurements:
    measurements = measure_session(session, workers=workers)
    refuse_nothing_measured(measurements)
    return measurements


def _compared(
    session: Session,
    tuning: str | Sequence[str] | None,
    a4_hz: float | None,
    mains_hz: float | None,
    workers: int,
) -> ComparedSession:
    session = _told(session, tuning=tuning, a4_hz=a4_hz, mains_hz=mains_hz)
    measurements = _measured(session, workers)
    session = with_voice_pairs(session, measurements)
    comparisons = compare_session(session, measurements, workers=workers)
    return ComparedSession(
        session,
        measurements,
        comparisons,
        report_findings(session, measurements, comparisons),
        find_worth(session, measurements, comparisons),
    )
