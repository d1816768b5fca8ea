"""Errors of a grid in a table, against the bars."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from accuracy_errors import Error

#: Bars on the 95th percentile of the absolute error by signal-to-noise ratio.
BARS: dict[str, dict[float, float]] = {
    "onset_ms": {60.0: 0.2, 45.0: 0.5},
    "f0_cents": {60.0: 0.1, 45.0: 0.3},
    "partial_db": {60.0: 0.1, 45.0: 0.3},
    "partial_decay_pct": {60.0: 2.0, 45.0: 4.0},
    "decay_pct": {60.0: 1.0, 45.0: 2.0},
    "centroid_pct": {60.0: 0.5, 45.0: 1.0},
    "hum_db": {60.0: 0.1, 45.0: 0.2},
    "hiss_db": {60.0: 0.2, 45.0: 0.3},
    "mains_mhz": {60.0: 5.0, 45.0: 5.0},
}
#: Bars on the mean absolute error (Mohamad, Dixon & Harte 2017, single pickups).
MEAN_BARS = {"pick_mm": 5.1, "pickup_mm": 3.5}


@dataclass(frozen=True)
class Line:
    """One quantity at one signal-to-noise ratio over one kind of take."""

    quantity: str
    snr_db: float
    kind: str
    n: int
    measured: float
    rms: float
    mean_abs: float
    p95: float
    worst: float
    inside_68: float
    inside_95: float
    n_stated: int
    bar: float | None
    worst_where: str

    @property
    def met(self) -> bool | None:
        """Whether the bar holds (95th percentile; mean for positions); None without one."""
        if self.bar is None:
            return None
        return (self.mean_abs if self.quantity in MEAN_BARS else self.p95) <= self.bar


def line_of(errors: list[Error]) -> Line:
    """Summarise errors of one quantity, ratio and kind."""
    first = errors[0]
    known = [e for e in errors if e.error is not None]
    size = np.array([abs(e.error) for e in known if e.error is not None])
    stated = np.array([np.nan if e.stated is None else e.stated for e in known])
    sure = np.isfinite(stated)
    bar = MEAN_BARS.get(first.quantity, BARS.get(first.quantity, {}).get(first.snr_db))
    if size.size == 0:
        nan = float("nan")
        return Line(first.quantity, first.snr_db, first.kind, len(errors), 0.0, nan, nan, nan,
                    nan, nan, nan, 0, None, "")  # fmt: skip
    return Line(
        first.quantity, first.snr_db, first.kind, len(errors), size.size / len(errors),
        float(np.sqrt(np.mean(size**2))), float(size.mean()), float(np.quantile(size, 0.95)),
        float(size.max()),
        float(np.mean(size[sure] <= stated[sure])) if sure.any() else float("nan"),
        float(np.mean(size[sure] <= 1.96 * stated[sure])) if sure.any() else float("nan"),
        int(sure.sum()), bar, known[int(size.argmax())].where,
    )  # fmt: skip


def lines_of(errors: Iterable[Error]) -> list[Line]:
    """Return a line per quantity, ratio and kind, in the order they first came."""
    groups: dict[tuple[str, float, str], list[Error]] = {}
    for error in errors:
        groups.setdefault((error.quantity, error.snr_db, error.kind), []).append(error)
    return [line_of(group) for _, group in sorted(groups.items(), key=_order)]


def _order(item: tuple[tuple[str, float, str], list[Error]]) -> tuple[int, float, str]:
    names = [*BARS, *MEAN_BARS, "level_db"]
    quantity, snr_db, kind = item[0]
    return names.index(quantity), -snr_db, kind


def text(lines: Iterable[Line]) -> str:
    """Plain table, a row per line."""
    head = (
        f"{'quantity':18}{'SNR':>4} {'takes':8}{'n':>6}{'meas.':>7}{'RMS':>9}{'95 %':>9}"
        f"{'largest':>9}{'in 68':>7}{'in 95':>7}{'bar':>7}  met"
    )
    rows = [head]
    for line in lines:
        met = {None: "", True: "yes", False: "NO"}[line.met]
        bar = "" if line.bar is None else f"{line.bar:g}"
        mean = f" (mean {line.mean_abs:.2f})" if line.quantity in MEAN_BARS else ""
        rows.append(
            f"{line.quantity:18}{line.snr_db:4.0f} {line.kind:8}{line.n:6d}{line.measured:7.1%}"
            f"{line.rms:9.3f}{line.p95:9.3f}{line.worst:9.3f}{line.inside_68:7.2f}"
            f"{line.inside_95:7.2f}{bar:>7}  {met}{mean}"
        )
    return "\n".join(rows)
