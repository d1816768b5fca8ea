"""The columns of the CSV files: a contract. Add columns at the end, never change these."""

from __future__ import annotations

from tonecompare.quantities.registry import ENTRIES


def _promised(table: str) -> tuple[str, ...]:
    return tuple(
        column
        for entry in ENTRIES
        if table in entry.tables and not entry.extra
        for column in entry.columns
    )


MEASUREMENTS = _promised("measurements")
#: The flags stand at the end of a quiet's row.
QUIET = (*(column for column in _promised("quiet") if column != "flags"), "flags")

VOICES = (
    "stage", "voice", "output", "n_plucks", "n_notes", "pickup_point", "pickup_point_se",
    "pickup_distance_mm", "pickup_distance_mm_se", "resonance_hz", "resonance_hz_se",
    "resonance_q", "resonance_q_se", "flags", "coil_spacing_mm", "coil_spacing_mm_se",
)  # fmt: skip

DIFFERENCES = (
    "comparison", "before", "after", "voice", "output", "note", "quantity", "unit", "before_value",
    "after_value", "difference", "ci_low", "ci_high", "n_before", "n_after", "p_value",
    "p_adjusted", "hearing_threshold", "verdict", "reason",
)  # fmt: skip

BLEND = (
    "stage", "voice", "note", "delay_us", "delay_se_us", "polarity", "coherence",
    "level_difference_db", "transient_magnetic_db", "transient_piezo_db", "fuller_polarity",
    "flags",
)  # fmt: skip
