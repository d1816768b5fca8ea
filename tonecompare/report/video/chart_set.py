"""A folder of pictures for a video, for print or for a page."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import matplotlib as mpl

from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.makers import MADE_BY_CHARTS
from tonecompare.report.video.shapes import Look, Screen
from tonecompare.report.video.slide import Slide, slide_files
from tonecompare.report.video.statement import Statement


def drawn(statement: Statement, shape: Screen, look: Look) -> Slide:
    """Return a statement as a picture."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams["text.parse_math"] = False
        slide = Slide(shape, look)
        slide.head(statement.title, statement.number, statement.sure)
        statement.draw(slide)
    return slide


def write_charts(
    made: Sequence[Statement],
    out: Path,
    *,
    shapes: Sequence[Screen],
    look: Look,
    progress: Callable[[int, int, str], None] | None = None,
    notice: Callable[[str], None] | None = None,
) -> tuple[str, ...]:
    """Write pictures to the folder ``out``, whole or not at all; return their names.

    Raises
    ------
    InputError
        When ``out`` holds something else.
    """
    names = []
    total = len(made) * len(shapes)
    with whole_or_nothing(out, by=MADE_BY_CHARTS, notice=notice) as folder:
        for shape in shapes:
            for statement in made:
                for kind, data in slide_files(drawn(statement, shape, look)).items():
                    name = f"{shape.name}-{statement.name}.{kind}"
                    (folder / name).write_bytes(data)
                    names.append(name)
                if progress is not None:
                    progress(len(names), total, statement.name)
        summary = {"made_by": MADE_BY_CHARTS, "schema": 1, "look": look.name}
        (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    return tuple(names)
