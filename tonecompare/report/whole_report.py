"""The report folder: page, tables, charts, clips and summary, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from tonecompare.compare.causes.repeat_drift import DRIFT
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.side_by_side.stage_voices import COLUMNS, side_by_side_table
from tonecompare.compare.voices_paired import with_sides
from tonecompare.compare.worth.work_steps import Step
from tonecompare.language import ENGLISH, in_language, tr
from tonecompare.measure.model import Measurements
from tonecompare.report.charts.draw_all import album
from tonecompare.report.files.clips import ClipWriter
from tonecompare.report.files.csv_tables import TABLES, csv_text
from tonecompare.report.files.players import SoundStore
from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.files.summary import summary_text
from tonecompare.report.page.appendix import left_out_views
from tonecompare.report.page.build_view import build_page, remark_views
from tonecompare.report.page.guitars.worth_section import WORTH_COLUMNS, worth_table
from tonecompare.report.page.layout import page_html
from tonecompare.report.page.others_section import others_view
from tonecompare.report.page.view import PageView
from tonecompare.report.shown_in_full import InFull, shown_in_full
from tonecompare.report.words.exchanged_outputs import marked_blend
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.reason_words import told_differences
from tonecompare.report.words.report_findings import left_out, report_findings
from tonecompare.session.model import Session


def write_report(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    out: Path,
    *,
    progress: Callable[[str], None] | None = None,
    clips: bool = True,
    audio_inside: bool = True,
    sheet_only: bool = False,
    worth: Sequence[Step] = (),
    findings: Sequence[Finding] | None = None,
    notice: Callable[[str], None] | None = None,
    workers: int = 1,
    shown: Sequence[str] = (),
    finished: Callable[[Path], None] | None = None,
) -> Path:
    """Write the report of a session to ``out``, replacing an earlier report there.

    Parameters
    ----------
    session, measurements, comparisons
        What was recorded, measured and compared.
    out
        The report's own folder; its parents are made.
    progress
        Called with a short text at each step.
    clips
        False for a report without audio excerpts.
    audio_inside
        Whether the page carries its sounds, so that it plays when it is handed on alone.
    sheet_only
        Whether a print of the page is its sheet alone, one page of A4 or Letter.
    worth
        Steps of work with what they cost and moved (:func:`tonecompare.compare.find_worth`).
    findings
        What the page and the summary say, where the caller shows it too; made here when left
        out (:func:`tonecompare.report.report_findings`).
    notice
        Called with a sentence for each file of an earlier report that was changed since it was
        written and is kept beside the new one.
    workers
        Processes that draw; the report is the same for any number.
    shown
        Guitars, stages or comparisons that the page shows in full, and no others; without any it
        shows all, of many as many as one page holds.
    finished
        Called with the folder of finished files before it takes its place.

    Returns
    -------
    Path
        ``out``, which holds ``index.html``, the CSV files, ``summary.json``, ``charts/`` and,
        with clips, ``clips/``.

    Raises
    ------
    InputError
        ``out`` holds something that is not a report of ours, or cannot be written.
    """
    step = progress if progress is not None else _silent
    if findings is None:
        findings = report_findings(session, measurements, comparisons)
    page = shown_in_full(session, measurements, comparisons, findings, worth, asked=shown)
    with whole_or_nothing(out, notice=notice) as folder, album(workers) as pictures:
        cutter = _clip_writer(page, measurements, folder) if clips else None
        view = build_page(
            page.session,
            page.measurements,
            page.comparisons,
            findings,
            worth=page.worth,
            album=pictures,
            clips=cutter,
            sounds=SoundStore(folder) if clips and audio_inside else None,
            step=step,
        )
        if page.narrowed:
            n = len(page.session.comparisons)
            others = others_view(comparisons, page.others, shown=n, asked=bool(shown))
            view = _of_all_files(replace(view, others=others), session, measurements)
        step(tr("Drawing"))
        # Others draw meanwhile.
        with in_language(ENGLISH):  # tables are read by programs
            _write_tables(folder, measurements, comparisons, worth)
        _write_text(
            folder / "summary.json", summary_text(session, measurements, comparisons, findings)
        )
        pictures.draw(
            told=lambda done, all_: step(tr("Drawing {done} of {total}", done=done, total=all_)),
        )
        step(tr("Writing"))
        _write_text(folder / "index.html", page_html(view, sheet_only=sheet_only))
        for name, data in pictures.files.items():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(data)
        if finished is not None:
            finished(folder)
    return out


def _clip_writer(page: InFull, measurements: Measurements, folder: Path) -> ClipWriter:
    """Return what cuts the page's clips, of all files that were measured."""
    plucks = with_sides(page.session, page.measurements)[1].plucks
    return ClipWriter(page.session, plucks, folder, measurements.files)


def _of_all_files(view: PageView, session: Session, measurements: Measurements) -> PageView:
    """Return the view of a narrowed page with the remarks on every file of the session."""
    return replace(
        view,
        left_out=left_out_views(left_out(session, measurements)),
        problems=remark_views(session, measurements),
    )


def _write_tables(
    folder: Path, measurements: Measurements, comparisons: Comparisons, worth: Sequence[Step]
) -> None:
    """Write the CSV files."""
    tables = (measurements.plucks, measurements.quiet, _all_differences(comparisons))
    blend = marked_blend(measurements.blend, comparisons.bench)
    for (name, columns), table in zip(
        TABLES.items(), (*tables, blend, measurements.voices), strict=True
    ):
        _write_text(folder / name, csv_text(table, columns))
    drift = comparisons.tables.get("drift")
    if drift is not None and len(drift):
        _write_text(folder / "drift.csv", csv_text(drift, DRIFT))
    if comparisons.voices:
        beside = side_by_side_table(comparisons.voices)
        _write_text(folder / "side_by_side.csv", csv_text(beside, COLUMNS))
    if worth:
        _write_text(folder / "worth.csv", csv_text(worth_table(worth), WORTH_COLUMNS))


def _all_differences(comparisons: Comparisons) -> pd.DataFrame:
    """Return the session's differences, and after them those that its tables rest on besides."""
    each = [comparisons, *([comparisons.further] if comparisons.further else [])]
    return pd.concat([told_differences(one) for one in each], ignore_index=True)


def _write_text(path: Path, text: str) -> None:
    """Write UTF-8; lone surrogates of undecodable file names come out as question marks."""
    path.write_bytes(text.encode("utf-8", "replace"))


def _silent(_text: str) -> None:
    return None
