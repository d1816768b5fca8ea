"""Write a chart as PNG and SVG: the same bytes from run to run, small, without dates."""

from __future__ import annotations

import io
from dataclasses import dataclass

import matplotlib as mpl
from matplotlib.figure import Figure
from PIL import Image

from tonecompare.report.charts.canvas.svg import svg_of

#: Colours kept in a PNG: flat lines on white need few.
_PNG_COLOURS = 64


@dataclass(frozen=True)
class ChartFiles:
    """One chart in both formats."""

    png: bytes
    svg: bytes


def save_chart(figure: Figure) -> ChartFiles:
    """Render a figure in both formats, see :func:`png_of` and :func:`svg_of`."""
    return ChartFiles(png_of(figure), svg_of(figure, "chart").encode())


def png_of(figure: Figure) -> bytes:
    """Return a figure as PNG, reduced to a palette of 64 colours."""
    raw = io.BytesIO()
    with mpl.rc_context():
        mpl.rcdefaults()
        figure.savefig(raw, format="raw")
    width, height = (int(float(size)) for size in figure.bbox.size)
    picture = Image.frombytes("RGBA", (width, height), raw.getvalue()).convert("RGB")
    reduced = picture.quantize(
        _PNG_COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE
    )
    png = io.BytesIO()
    reduced.save(png, "PNG", optimize=True, dpi=(figure.dpi, figure.dpi))
    return png.getvalue()
