"""Plucks that are unlike the others of their note.

Within voice, output and note the distance from the median is counted in a scale that is the larger
of the typical spread of one player (session.repeats) and the voice's own: 1.4826 times the median
absolute deviation over all its notes (consistent for normal data; Hampel 1974, from memory). What
is below the hearing threshold is let pass. A single note has too few plucks for a scale of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.quantities.registry import PARTIAL_DECAYS
from tonecompare.session.plan.repeats import TYPICAL_SPREADS, AssumedSpread
from tonecompare.takes.plucks.passages import is_played

#: Distances beyond this many scales are outliers (a normal pluck passes 5 once in two million).
LIMIT = 5.0
#: Fewer plucks of a note have no median to be far from.
_LEAST = 3
#: Quantity -> factor from the analysis scale (dB, cents, natural logarithm) to dB, cents, or cents
#: of brightness and 0.01 of the logarithm of a decay, as the typical spreads are given.
_LOOKED_AT = {
    "level_dbfs": 1.0,
    "centroid_hz": 1200.0 / np.log(2.0),
    "decay_s": 100.0,
    "cents": 1.0,
}
#: Partial decays that differ by less (natural logarithm, median) are the same string's: they
#: scatter by 5 % from pluck to pluck.
SAME_DECAY = 0.1
_LEAST_DECAYS = 4
_RATIOS = ("centroid_hz", "decay_s")


def outlier_faults(checked: Checked) -> Iterator[Fault]:
    """Yield a fault per pluck that stands far from the others of its note."""
    notes = checked.plucks["note"]
    single = (notes != "") & ~notes.map(is_played).astype(bool)
    table = checked.plucks[single].reset_index(drop=True)
    if table.empty:
        return
    names, numbers = [str(f) for f in table["file"]], [int(n) for n in table["pluck"]]
    odd: dict[tuple[str, int], dict[str, float]] = {}
    for quantity, factor in _LOOKED_AT.items():
        values = table[quantity].astype(float)
        scaled = (np.log(values.where(values > 0.0)) if quantity in _RATIOS else values) * factor
        for at, off in _distances(table, scaled, TYPICAL_SPREADS[quantity]):
            of = odd.setdefault((names[at], numbers[at]), {})
            of[quantity] = max(off, of.get(quantity, 0.0), key=abs)  # of both channels
    mixed = _only_mixed_otherwise(table)
    files = {file.file: file for file in checked.files}
    for (name, number), distances in sorted(odd.items()):
        file = files[name]
        pluck = next(p for p in file.plucks if p.number == number)
        # A level that is off tells of more than the mix.
        only_mix = (name, number) in mixed and "level_dbfs" not in distances
        # Data: note; quantity and distance from the median of each; whether only the mix of the
        # partials is another although the decay time is odd.
        yield fault_of(
            file,
            "outlier",
            "doubt",
            (pluck.note, tuple(distances.items()), only_mix and "decay_s" in distances),
            time_s=pluck.onset_s,
            plucks=[number],
        )


def _only_mixed_otherwise(table: pd.DataFrame) -> set[tuple[str, int]]:
    """Return (file, pluck) whose partials decay as in the other plucks of the note, by median."""
    columns = list(PARTIAL_DECAYS)
    decays = table[columns].astype(float)
    logs = pd.DataFrame(np.log(decays.where(decays > 0.0)), columns=columns, index=table.index)
    groups = [table[key] for key in ("stage", "voice", "output", "note")]
    off = (logs - logs.groupby(groups).transform("median")).to_numpy()
    enough = np.isfinite(off).sum(axis=1) >= _LEAST_DECAYS
    found = set()
    for row in np.flatnonzero(enough):
        if float(np.nanmedian(np.abs(off[row]))) < SAME_DECAY:
            found.add((str(table["file"].iloc[row]), int(table["pluck"].iloc[row])))
    return found


def _distances(
    table: pd.DataFrame, values: pd.Series, typical: AssumedSpread
) -> Iterator[tuple[int, float]]:
    """Yield (row, distance from the note's median) of the outliers."""
    groups = [table[key] for key in ("stage", "voice", "output", "note")]
    off = values - values.groupby(groups).transform("median")
    many = values.groupby(groups).transform("count") >= _LEAST
    voice_scale = 1.4826 * off[many].abs().groupby(
        [table.loc[many, key] for key in ("stage", "voice", "output")]
    ).transform("median")
    scale = np.maximum(voice_scale.reindex(values.index).fillna(typical.sd), typical.sd)
    limit = np.maximum(LIMIT * scale, typical.smallest_change)
    for at in np.flatnonzero((many & (off.abs() > limit)).to_numpy()):
        yield int(at), float(off.iloc[at])
