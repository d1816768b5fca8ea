"""Replace a report in a child that dies at one line after another; run as a script.

Prints a line per death: the line number it died at, what stands in place then and after the next
run, and what is left beside it. ``exchange`` as second argument allows the exchange in one step.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from tonecompare.report.files import switch_folders
from tonecompare.report.files.own_files import listed
from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.makers import MADE_BY

_WATCHED = ("report_folder.py", "switch_folders.py", "own_files.py")


def write(out: Path, text: str) -> None:
    """Write a small report."""
    with whole_or_nothing(out) as folder:
        (folder / "index.html").write_text(text)
        (folder / "summary.json").write_text(json.dumps({"made_by": MADE_BY}))


def stands(out: Path) -> str:
    """What a whole report says, "broken" for one that is not, "none" without."""
    if not out.exists():
        return "none"
    whole = (listed(out) or {}).get("summary.json") and (out / "index.html").is_file()
    return (out / "index.html").read_text() if whole else "broken"


def _die_at(moment: int) -> Callable[[FrameType, str, Any], Any]:
    lines = 0

    def watch(frame: FrameType, event: str, _arg: Any) -> Any:
        nonlocal lines
        if not frame.f_code.co_filename.endswith(_WATCHED):
            return None
        if event == "line":
            lines += 1
            if lines == moment:
                os._exit(9)
        return watch

    return watch


def main(folder: Path, *, exchange: bool) -> None:
    os.fsync = lambda _handle: None  # what a killed process wrote the system keeps
    if not exchange:
        switch_folders.exchange = lambda _one, _other: False
    out, moment, ended = folder / "out", 0, 9
    while ended == 9:
        moment += 1
        write(out, "earlier")
        (out / "mine.txt").write_text("mine")
        child = os.fork()
        if child == 0:
            sys.settrace(_die_at(moment))
            write(out, "later")
            os._exit(0)
        ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        after = stands(out)
        write(out, "next")
        mine = (out / "mine.txt").read_text()
        beside = [path.name for path in folder.iterdir() if path != out]
        print(json.dumps([moment, ended, after, stands(out), mine, beside]))


if __name__ == "__main__":
    main(Path(sys.argv[1]), exchange=sys.argv[2] == "exchange")
