"""A report that was made before, whole: its files and what the terminal said of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tonecompare.measure.model import FileRecord
from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.session.model import LeftOut


@dataclass(frozen=True)
class KeptReport:
    """The files of a report by name, and what goes to the terminal beside it."""

    findings: tuple[Finding, ...]
    several: bool
    compared: bool
    remarks: tuple[str, ...]
    records: tuple[FileRecord, ...]
    left_out: tuple[LeftOut, ...]
    word: str
    files: Mapping[str, bytes] = field(default_factory=dict)


def files_of(folder: Path) -> dict[str, bytes]:
    """Return the content of every file below a finished folder by its name there."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def write_again(out: Path, kept: KeptReport, *, notice: Callable[[str], None]) -> None:
    """Write a kept report to ``out`` as :func:`tonecompare.report.write_report` did."""
    with whole_or_nothing(out, notice=notice) as folder:
        for name, content in kept.files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
