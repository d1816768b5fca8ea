"""Errors of positions over synthetic voices, and their table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from positions_truth import FRETTED_NOTES, KINDS, OPEN_NOTES, SCALE_MM, VoiceTruth, voice_of

from tonecompare.measure.measured import Measured
from tonecompare.measure.place.coil_spacing import find_spacing
from tonecompare.measure.place.pick_and_pickup import find_positions

SNRS_DB = (60.0, 45.0, 30.0)
QUANTITIES = ("pick mm", "pickup mm", "spacing mm")


@dataclass
class Column:
    """Errors and stated uncertainties of one quantity; ``tried`` counts the undetermined too."""

    errors: list[float] = field(default_factory=list)
    stated: list[float] = field(default_factory=list)
    tried: int = 0

    def add(self, error: float | None, stated: float | None) -> None:
        """Add one, or one that was not determinable (None)."""
        self.tried += 1
        if error is not None and stated is not None:
            self.errors.append(error)
            self.stated.append(stated)

    def add_ratio(self, found: Measured, true: float) -> None:
        """Add the error of a measured number, in per cent of the true one (logarithmic)."""
        if found.value is None or found.uncertainty is None:
            self.add(None, None)
        else:
            error_percent = 100.0 * float(np.log(found.value / true))
            self.add(error_percent, 100.0 * found.uncertainty / found.value)

    def inside(self, times: float) -> float:
        """Share of errors within so many standard uncertainties."""
        return float(np.mean(np.abs(self.errors) <= times * np.array(self.stated)))


def columns_of(kind: str, snr_db: float, *, voices: int, seed: int) -> dict[str, Column]:
    """Errors over some voices of one kind at one signal-to-noise ratio."""
    out = {name: Column() for name in QUANTITIES}
    for i in range(voices):
        rng = np.random.default_rng([seed, i, KINDS.index(kind), int(snr_db)])
        add_voice(out, voice_of(rng, kind, snr_db, OPEN_NOTES if i % 2 else FRETTED_NOTES))
    return out


def add_voice(out: dict[str, Column], truth: VoiceTruth) -> None:
    """Measure one voice and add its errors."""
    found = find_positions(truth.plucks)
    for point, sd, true, length in zip(
        found.pluck_point, found.pluck_point_sd, truth.pick_mm, truth.length_mm, strict=True
    ):
        known = bool(np.isfinite(point))
        out["pick mm"].add(
            float(point * length - true) if known else None, float(sd * length) if known else None
        )
    place, sd = found.pickup_point, found.pickup_point_sd
    out["pickup mm"].add(
        None if place is None else place * SCALE_MM - truth.pickup_mm,
        None if sd is None else sd * SCALE_MM,
    )
    spacing = find_spacing(found)
    out["spacing mm"].add(
        None if spacing.value is None else spacing.value * SCALE_MM - truth.spacing_mm,
        None if spacing.uncertainty is None else spacing.uncertainty * SCALE_MM,
    )


def text(rows: Sequence[tuple[str, float, dict[str, Column]]]) -> str:
    """Plain table, a row per kind, ratio and quantity."""
    lines = [
        f"{'voices':11}{'SNR':>4} {'quantity':13}{'n':>6}{'meas.':>7}{'median':>9}{'mean':>9}"
        f"{'95 %':>9}{'largest':>9}{'stated':>8}{'in 68':>7}{'in 95':>7}"
    ]
    for kind, snr_db, columns in rows:
        for name, column in columns.items():
            size = np.abs(column.errors)
            head = (
                f"{kind:11}{snr_db:4.0f} {name:13}{column.tried:6d}{size.size / column.tried:7.1%}"
            )
            if size.size == 0:
                lines.append(head)
                continue
            lines.append(
                f"{head}{np.median(size):9.3f}{size.mean():9.3f}{np.quantile(size, 0.95):9.3f}"
                f"{size.max():9.2f}{np.median(column.stated):8.2f}{column.inside(1.0):7.2f}"
                f"{column.inside(1.96):7.2f}"
            )
    return "\n".join(lines)
