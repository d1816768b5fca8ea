"""Numbers in a report's tables that cannot be, and cells that are none: what a fuzzer looks for.

The bounds are physics and definitions (design of the columns), never what the program allows.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping
from pathlib import Path

#: What a column can hold at most. Samples of up to 1e10 times full scale (200 dB) are measured.
_BOUNDS: Mapping[str, tuple[float, float]] = {
    "onset_s": (0.0, 7200.0), "start_s": (0.0, 7200.0), "length_s": (0.0, 7200.0),
    "ring_s": (0.0, 7200.0), "f0_hz": (15.0, 20_000.0), "cents": (-60.0, 60.0),
    "peak_dbfs": (-300.0, 205.0), "level_dbfs": (-320.0, 205.0), "hum_dbfs": (-400.0, 205.0),
    "buzz_dbfs": (-400.0, 205.0), "hiss_dbfs": (-400.0, 205.0), "noise_a_dbfs": (-400.0, 205.0),
    "snr_db": (-40.0, 400.0), "attack_ms": (0.0, 2000.0), "centroid_hz": (20.0, 12_000.0),
    "tristimulus_1": (0.0, 1.0), "tristimulus_2": (0.0, 1.0), "tristimulus_3": (0.0, 1.0),
    "decay_s": (1e-3, 300.0), "decay_early_s": (1e-3, 600.0), "decay_late_s": (1e-3, 300.0),
    "inharmonicity": (-1e-9, 0.05), "pluck_point": (0.0, 1.0), "pickup_point": (0.0, 1.0),
    "mains_hz": (45.0, 65.0), "coherence": (0.0, 1.0), "likeness": (-1.0, 1.0),
    "delay_us": (-50_000.0, 50_000.0), "level_difference_db": (-400.0, 400.0),
    "resonance_hz": (100.0, 100_000.0), "resonance_q": (0.0, 100.0), "p_value": (0.0, 1.0),
    "p_adjusted": (0.0, 1.0), "n_before": (0.0, 1e6), "n_after": (0.0, 1e6),
}  # fmt: skip
#: A slope over 20 dB (10 dB where half of the range is told) cannot give more than this many times
#: the time that rang.
_DECAYS_PER_RING = 6.6
_NO_NUMBERS = ("nan", "inf", "-inf", "+inf", "infinity", "none", "nat", "<na>")
_TEXTS = (
    "stage", "voice", "file", "output", "flags", "reason", "comparison", "before", "after", "note",
    "what", "against", "against_voice", "family", "new_voices", "instrument", "from", "voices",
    "unit", "quantity", "verdict",
)  # fmt: skip


def in_table(text: str) -> Iterator[tuple[str, str]]:
    """Yield ("non-finite" or "nonsense", what stands there) for each fault of a CSV table."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    head = rows[0]
    for row in rows[1:]:
        if len(row) != len(head):
            yield "nonsense", f"{len(row)} cells for {len(head)} columns"
            continue
        cells = dict(zip(head, row, strict=True))
        yield from _in_row(cells)


def _in_row(cells: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    numbers: dict[str, float] = {}
    for name, cell in cells.items():
        if name in _TEXTS or not cell:
            continue
        if cell.strip().lower() in _NO_NUMBERS:
            yield "non-finite", f"{name} = {cell}"
            continue
        try:
            numbers[name] = float(cell)
        except ValueError:
            continue
        if not math.isfinite(numbers[name]):
            yield "non-finite", f"{name} = {cell}"
    if cells.get("flags"):
        return
    for name, value in numbers.items():
        low, high = _BOUNDS.get(name, (-math.inf, math.inf))
        if not low <= value <= high:
            yield "nonsense", f"{name} = {value:g}, without a flag"
    ring_s, decay_s = numbers.get("ring_s"), numbers.get("decay_s")
    if ring_s is not None and decay_s is not None and decay_s > _DECAYS_PER_RING * ring_s:
        yield "nonsense", f"decay_s = {decay_s:g} of what rang {ring_s:g} s, without a flag"
    if {"ci_low", "ci_high", "difference"} <= numbers.keys() and not (
        numbers["ci_low"] <= numbers["difference"] <= numbers["ci_high"]
    ):
        yield "nonsense", f"{numbers['difference']:g} outside its own interval"


def in_folder(folder: Path) -> list[tuple[str, str]]:
    """Return the faults of every CSV table in a report's folder."""
    return [
        (kind, f"{path.name}: {what}")
        for path in sorted(folder.glob("*.csv"))
        for kind, what in in_table(path.read_text(encoding="utf-8"))
    ]
