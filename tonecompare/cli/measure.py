"""``tonecompare measure FILE...``."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tonecompare.cli.options import (
    cluster_options,
    example,
    fresh_option,
    mains_option,
    progress_option,
    tuning_option,
    workers_option,
)
from tonecompare.cli.outcome import DONE, name_left_out, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.table import format_table
from tonecompare.cli.shown.terminal import show, show_data, width
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET
from tonecompare.session.tunings import with_tuning

if TYPE_CHECKING:
    import pandas as pd

    from tonecompare.kept.store import Store
    from tonecompare.measure.model import Measurements
    from tonecompare.session.model import LeftOut

_LEFT_ALIGNED = ("voice", "note", "flags")
#: What the terminal shows of each table; CSV and JSON hold every column.
_SHOWN = {
    "plucks": (
        "file", "output", "pluck", "note", "onset_s", "ring_s", "cents", "level_dbfs", "snr_db",
        "centroid_hz", "attack_ms", "decay_s", "likeness", "flags",
    ),
    "quiet": (
        "file", "output", "start_s", "length_s", "mains_hz", "hum_dbfs", "buzz_dbfs", "hiss_dbfs",
        "noise_a_dbfs", "flags",
    ),
    "blend": (
        "voice", "note", "delay_us", "polarity", "coherence", "level_difference_db", "flags",
    ),
}  # fmt: skip
_COLUMNS = {"plucks": MEASUREMENTS, "quiet": QUIET, "blend": BLEND}
#: Left out where no row has it: only riffs do.
_WHERE_THERE = "likeness"
_DIGITS = {
    "likeness": 2,
    "onset_s": 3,
    "ring_s": 2,
    "start_s": 2,
    "length_s": 2,
    "mains_hz": 3,
    "centroid_hz": 0,
}


def _cell(column: str, value: Any) -> str:
    if value is None or value != value:  # NaN
        return ""
    if column == "flags":  # the reasons why something is empty would make the table too wide
        return ", ".join(flag.text for flag in value if flag.is_word)
    if isinstance(value, float):
        digits = _DIGITS.get(column, 1)
        return f"{round(value, digits) + 0.0:.{digits}f}"
    return str(value)


def _as_text(frame: pd.DataFrame, columns: tuple[str, ...]) -> str:
    """Return a table for each file and output, named above it."""
    if _WHERE_THERE in columns and frame[_WHERE_THERE].isna().all():
        columns = tuple(column for column in columns if column != _WHERE_THERE)
    named = [column for column in ("file", "output") if column in columns]
    shown = columns[len(named) :]
    tables: dict[str, list[list[str]]] = {}
    for row in frame[list(columns)].itertuples(index=False, name=None):
        cells = [_cell(column, value) for column, value in zip(columns, row, strict=True)]
        tables.setdefault(", ".join(cells[: len(named)]), []).append(cells[len(named) :])
    return "\n\n".join(
        f"{head}\n".lstrip("\n")
        + format_table(shown, rows, left=_LEFT_ALIGNED, keys=2, width=width())
        for head, rows in (tables or {"": []}).items()
    )


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dictionaries; what was not measured is None."""
    from tonecompare.measure.flags import with_flags_as_text

    frame = with_flags_as_text(frame)
    text: str = frame.to_json(orient="records", double_precision=10, force_ascii=False)
    rows: list[dict[str, Any]] = json.loads(text)
    return rows


def _show(measurements: Measurements, *, shape: str, table: str | None) -> None:
    from tonecompare.report import csv_text

    frames = {
        "plucks": measurements.plucks,
        "quiet": measurements.quiet,
        "blend": measurements.blend,
    }
    if shape == "csv":
        name = table or "plucks"
        show_data(csv_text(frames[name], _COLUMNS[name]))
        return
    wanted = {name: frame for name, frame in frames.items() if table in (None, name)}
    if shape == "json":
        content: dict[str, Any] = {name: _records(frame) for name, frame in wanted.items()}
        content["files"] = [asdict(record) for record in measurements.files]
        show_data(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
        return
    shown = [
        f"{name}\n{_as_text(frame, _SHOWN[name])}"
        for name, frame in wanted.items()
        if len(frame) or table is not None
    ]
    show("\n\n".join(shown))


def _recordings_in(paths: Sequence[Path], left_out: list[LeftOut]) -> Iterator[Path]:
    """Yield files, and for a folder the recordings in it; add what cannot be used to the others."""
    from tonecompare.session import find_recordings
    from tonecompare.session.sound_folders import no_recordings

    for path in paths:
        if not path.is_dir():
            yield path
            continue
        recordings, not_used = find_recordings(path)
        if not recordings:
            raise InputError(no_recordings(path, not_used, stage=True))
        left_out += [replace(one, file=str(path / one.file)) for one in not_used]
        yield from (file for recording in recordings for file in recording.files)


@click.command(short_help=tr_later("Measure recordings: a table, CSV or JSON."))
@click.argument(
    "files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path)
)
@click.option(
    "--format",
    "shape",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    help="An aligned table (default), CSV, or JSON with everything.",
)
@click.option("--csv", "as_csv", is_flag=True, help="Short for --format csv.")
@click.option(
    "--table",
    type=click.Choice(["plucks", "quiet", "blend"]),
    help="Only one of the tables; CSV has the plucks unless told otherwise.",
)
@mains_option
@tuning_option
@workers_option
@cluster_options
@fresh_option
@progress_option
@example(
    "tonecompare measure neck.wav bridge.wav",
    "tonecompare measure heron/*/*.flac --csv > plucks.csv",
)
@with_exit_code
def measure(
    files: tuple[Path, ...],
    *,
    shape: str,
    as_csv: bool,
    table: str | None,
    mains_hz: float | None,
    tuning: str | None,
    workers: int,
    scheduler: str | None,
    store: Store,
    progress: bool | None,
) -> int:
    """Measure recordings: a row for every pluck and for every quiet stretch.

    A folder stands for the recordings in it. What could not be measured is left empty; the
    column "flags" of CSV and JSON says why.
    """
    from tonecompare.cli.pipeline import say_remarks
    from tonecompare.front.run import refuse_nothing_measured, session_of_files
    from tonecompare.measure import measure_session

    if as_csv and shape == "json":
        raise click.UsageError("--csv and --format json contradict each other; give one of them.")
    not_used: list[LeftOut] = []
    session = session_of_files(tuple(_recordings_in(files, not_used)))
    session = with_tuning(replace(session, mains_hz=mains_hz), tuning)
    with Progress(progress) as shown:
        measurements = measure_session(
            session, workers=workers, scheduler=scheduler, progress=shown, store=store
        )
    refuse_nothing_measured(measurements)
    _show(measurements, shape="csv" if as_csv else shape, table=table)
    say_remarks(measurements.files)
    code = name_left_out((*not_used, *measurements.left_out))
    if shape == "table" and not as_csv and code == DONE:
        sounds = [file for recording in session.recordings for file in recording.files]
        if len(sounds) > 1:
            say_next("compare", *sounds[:2])
        else:
            say_next("explain", "level_dbfs", when=tr("for what a column means"))
    return code
