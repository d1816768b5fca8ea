"""The response of the change: by how many dB after differs from before over frequency."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from tonecompare.compare.model import Response
from tonecompare.report.charts.canvas.axes import frequency_axis, value_axis
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import BLUE, MUTED, PAGE, Frame, chart


@chart
def response_chart(response: Response, *, title: str, frame: Frame = PAGE) -> Figure:
    """Draw the response of a change with its 95 % band."""
    sheet = Sheet(f"{title}: response of the change", frame=frame)
    (axes,) = sheet.axes()
    finite = np.isfinite(response.difference_db)
    if np.count_nonzero(finite) < 2:
        say_empty(axes, "Too few partials above the quiet for a curve over frequency.")
        return sheet.finished()
    hz, curve = response.frequency_hz, response.difference_db
    axes.axhline(0.0, color=MUTED, linewidth=0.08 * frame.font_pt)
    axes.fill_between(
        hz, response.ci_low_db, response.ci_high_db, color=BLUE, alpha=0.2, linewidth=0
    )
    axes.plot(hz, curve, color=BLUE, marker="o", markersize=0.3 * frame.font_pt)
    ends = np.abs(np.concatenate([response.ci_low_db, response.ci_high_db]))
    ends = ends[np.isfinite(ends)]
    reach = max(
        float(np.nanmax(np.abs(curve))), float(np.percentile(ends, 90)) if ends.size else 0.0, 1.0
    )
    value_axis(axes, -1.15 * reach, 1.15 * reach)
    frequency_axis(axes, max(float(hz[finite][0]) * 0.95, 20.0), float(hz[finite][-1]) * 1.05)
    axes.set_ylabel("difference, dB")
    return sheet.finished()
