"""Shares of truths inside stated intervals, as a table."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from accuracy_errors import Error

#: Shares of a normal distribution within 1 and 1.96 standard deviations.
SHARE_68, SHARE_95 = 0.6827, 0.95
#: Numbered columns counted together.
_FAMILIES = (
    (r"^h\d\d_db$", "h01_db…h24_db"),
    (r"^decay_h\d\d_s$", "decay_h01_s…h12_s"),
    (r"^hum_\d\d_dbfs$", "hum_01_dbfs…hum_10"),
)


@dataclass(frozen=True)
class Share:
    """How often one quantity's truth lies inside its intervals.

    ``z_rms`` is the root mean square of error over stated uncertainty (1 for an honest normal).
    """

    quantity: str
    kind: str
    snr_db: float
    n: int
    #: Share of the cases in which it was measured at all, and of these with an uncertainty.
    measured: float
    stated: float
    inside_68: float
    inside_95: float
    z_rms: float
    worst: str

    @property
    def error_68(self) -> float:
        """Binomial standard error of ``inside_68``; more where cases hang together."""
        return float(np.sqrt(SHARE_68 * (1.0 - SHARE_68) / max(self.n, 1)))

    @property
    def error_95(self) -> float:
        """Binomial standard error of ``inside_95``."""
        return float(np.sqrt(SHARE_95 * (1.0 - SHARE_95) / max(self.n, 1)))

    @property
    def holds(self) -> bool:
        """Whether neither share is lower than chance allows (two binomial standard errors)."""
        low_68 = self.inside_68 < SHARE_68 - 2.0 * self.error_68
        low_95 = self.inside_95 < SHARE_95 - 2.0 * self.error_95
        return self.n > 0 and not low_68 and not low_95


def family_of(quantity: str) -> str:
    """Return the name under which a column is counted."""
    for pattern, name in _FAMILIES:
        if re.match(pattern, quantity):
            return name
    return quantity


def shares_of(errors: Iterable[Error], *, each: bool = False) -> list[Share]:
    """Shares by quantity, kind of take and signal-to-noise ratio, in the order they come."""
    groups: dict[tuple[str, str, float], list[Error]] = {}
    for error in errors:
        name = error.quantity if each else family_of(error.quantity)
        groups.setdefault((name, error.kind, error.snr_db), []).append(error)
    return [_share(*key, group) for key, group in groups.items()]


def _share(quantity: str, kind: str, snr_db: float, errors: list[Error]) -> Share:
    known = [e for e in errors if e.error is not None]
    sure = [e for e in known if e.stated is not None and np.isfinite(e.stated) and e.stated > 0.0]
    z = np.array([(e.error or 0.0) / (e.stated or np.nan) for e in sure])
    nan = float("nan")
    return Share(
        quantity, kind, snr_db, len(sure), len(known) / len(errors),
        len(sure) / max(len(known), 1),
        float(np.mean(np.abs(z) <= 1.0)) if sure else nan,
        float(np.mean(np.abs(z) <= 1.96)) if sure else nan,
        float(np.sqrt(np.mean(z**2))) if sure else nan,
        f"{sure[int(np.argmax(np.abs(z)))].where} ({np.max(np.abs(z)):.1f} sd)" if sure else "",
    )  # fmt: skip


def text(shares: Iterable[Share]) -> str:
    """Plain table: a row per quantity and kind, three columns of figures per ratio."""
    rows: dict[tuple[str, str], dict[float, Share]] = {}
    for share in shares:
        rows.setdefault((share.quantity, share.kind), {})[share.snr_db] = share
    ratios = sorted({snr for row in rows.values() for snr in row}, reverse=True)
    head = f"{'quantity':20}{'takes':8}"
    head += "".join(f"|{snr:3.0f} dB {'n':>5} meas.   in 68    in 95   z  " for snr in ratios)
    lines = [head]
    for (quantity, kind), row in rows.items():
        cells = "".join(f"|{_cell(row.get(snr))}" for snr in ratios)
        lines.append(f"{quantity:20}{kind:8}{cells}")
    return "\n".join(lines)


def _cell(share: Share | None) -> str:
    if share is None or share.n == 0:
        measured = 0.0 if share is None else share.measured
        return f"{0:12d} {measured:5.2f}" + " " * 24
    mark = " " if share.holds else "!"
    return (
        f"{share.n:12d} {share.measured:5.2f} {share.inside_68:.2f}±{share.error_68:.2f} "
        f"{share.inside_95:.2f}±{share.error_95:.2f}{mark}{min(share.z_rms, 99.0):5.2f}"
    )
