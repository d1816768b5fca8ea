"""The wave of a file as a small drawing inside the page: outline, quiets, cut marks.

Text stands beside the drawing as HTML, in places given in per cent, so that it keeps its size when
the drawing is stretched to the width of a phone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.report.words.numbers import number

#: Height of one channel's drawing in its own units; the width is that of the outline.
_HEIGHT = 100
#: Plucks closer than this share of the width get one label between them.
_LABEL_SHARE = 0.035


@dataclass(frozen=True)
class Mark:
    """One thing written over the wave: what, and where in per cent of the width."""

    text: str
    at_percent: float


@dataclass(frozen=True)
class Wave:
    """One file's drawing: an SVG path per channel, stretches and marks in per cent."""

    paths: tuple[str, ...]
    points: int
    height: int
    #: (start, width) of quiets, then of each pluck's ring.
    quiets: tuple[tuple[float, float], ...]
    rings: tuple[tuple[float, float], ...]
    labels: tuple[Mark, ...]
    #: Where faults point to.
    faults: tuple[float, ...]
    #: What the largest height stands for.
    scale: str


def wave(file: Inspected, fault_times_s: tuple[float, ...] = ()) -> Wave:
    """Return the drawing of a file."""
    length = max(file.length_s, 1e-9)

    def share(time_s: float) -> float:
        return round(100.0 * min(max(time_s / length, 0.0), 1.0), 2)

    top = max(float(np.abs(file.outline).max()), 1e-9)
    return Wave(
        paths=tuple(_path(channel, top) for channel in file.outline),
        points=file.outline.shape[2],
        height=_HEIGHT,
        quiets=tuple((share(q.start_s), share(q.length_s)) for q in file.quiets),
        rings=tuple((share(p.onset_s), share(p.ring_s)) for p in file.plucks),
        labels=_labels(file, share(1.0) / 100.0),
        faults=tuple(dict.fromkeys(share(t) for t in fault_times_s)),
        scale=f"{number(20.0 * float(np.log10(top)), 1)} dBFS",
    )


def _path(channel: FloatArray, top: float) -> str:
    """Return the closed outline of one channel, (2, points), the largest sample at the edge."""
    middle = _HEIGHT / 2.0
    y = np.rint(middle - channel / top * (middle - 2.0)).astype(int)
    upper = [f"{x} {v}" for x, v in enumerate(y[1])]
    lower = [f"{x} {v + 1}" for x, v in reversed(list(enumerate(y[0])))]
    return f"M{'L'.join(upper)}L{'L'.join(lower)}Z"


def _labels(file: Inspected, per_second: float) -> tuple[Mark, ...]:
    """Return the notes' names, one for a run of the same note, none on top of another."""
    marks: list[Mark] = []
    previous, last = None, -1.0
    for pluck in file.plucks:
        name = pluck.note or "?"
        at = pluck.onset_s * per_second
        if name != previous and at - last >= _LABEL_SHARE:
            marks.append(Mark(name, round(100.0 * at, 2)))
            last = at
        previous = name
    return tuple(marks)
