"""What the takes at hand can show: the smallest difference per voice and quantity.

The spread ``s`` from pluck to pluck is pooled over the notes of the voice; ``n`` is the median
number of plucks of a note and ``k`` the number of notes. The smallest change that a second stage
recorded in the same way would show in four of five cases is that of
``smallest_change`` (power 0.8, two-sided 5 %), on the quantity's
own analysis scale, when the change is the same on every note. Hum and hiss come from the standard
uncertainties ``u`` of the quiet stretches, in which stands how the level wandered while they
lasted, and what two recordings of one state differ by, ``b``:
``(1.96 + 0.84) sqrt(2 (b² + 1 / sum 1/u²))`` (normal quantiles).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.check.check_results import Checked, Resolved
from tonecompare.compare.difference.quiet_differences import between_recordings_db
from tonecompare.compare.difference.stage_differences import KNOWN_DF, usual_scatter
from tonecompare.compare.difference.stage_pairs import scale_matrix
from tonecompare.compare.thresholds import THRESHOLDS
from tonecompare.quantities.compared import Quantity, quantity_of
from tonecompare.session.plan.repeats import smallest_change
from tonecompare.takes.plucks.passages import is_passage

#: Why nothing can be said: measured on no pluck; too few repeats to know the spread; plucks that
#: do not differ at all; one note plucked once; measured in no quiet stretch.
NO_VALUE, FEW_REPEATS, NO_VARIATION = "no-value", "few-repeats", "no-variation"
ONE_PLUCK, NO_STRETCH = "one-pluck", "no-stretch"
#: Quantities of plucks and of quiets, one for each family a reader asks about.
OF_PLUCKS = (
    "level_dbfs",
    "centroid_hz",
    "shape_0125_db",
    "shape_1000_db",
    "shape_4000_db",
    "decay_s",
    "cents",
)
OF_QUIETS = ("hum_dbfs", "hiss_dbfs")
#: (1.96 + 0.84) sqrt(2): normal quantiles of 97.5 % and 80 %, two stages.
_QUIET_FACTOR = (1.959964 + 0.841621) * 2.0**0.5
#: Fewer degrees of freedom do not show a spread (one fewer where one riff is all that was played).
_LEAST_DF = 4


def resolution(checked: Checked, stage: str) -> tuple[Resolved, ...]:
    """Return what the takes of one stage can show, voice by voice."""
    return (*_of_plucks(checked, stage), *_of_quiets(checked, stage))


def _of_plucks(checked: Checked, stage: str) -> Iterator[Resolved]:
    table = checked.plucks[(checked.plucks["stage"] == stage) & (checked.plucks["note"] != "")]
    quantities = [quantity_of(name) for name in OF_PLUCKS]
    for (voice, output), rows in table.groupby(["voice", "output"], sort=False):
        values = pd.DataFrame(scale_matrix(rows, quantities), columns=list(OF_PLUCKS))
        notes = rows["note"].to_numpy()
        for quantity in quantities:
            of = values[quantity.column].to_numpy()
            of_notes = [of[(notes == note) & np.isfinite(of)] for note in dict.fromkeys(notes)]
            kept = [each for each in of_notes if each.size]
            riffs = all(is_passage(note) for note in notes)
            yield _resolved(stage, str(voice), str(output), quantity, kept, riffs=riffs)


def _resolved(
    stage: str,
    voice: str,
    output: str,
    quantity: Quantity,
    values: list[FloatArray],
    *,
    riffs: bool = False,
) -> Resolved:
    """Return what the values of each note, on the analysis scale, can show.

    Of ``riffs`` alone it is known beforehand how far repeats scatter.
    """
    counts = [len(of_note) for of_note in values]
    df = sum(counts) - len(counts)
    squares = float(sum(np.sum((of_note - of_note.mean()) ** 2) for of_note in values))
    n = int(np.median(counts)) if counts else 0
    smallest = spread = None
    if not counts:
        reason = NO_VALUE
    elif df < _LEAST_DF - riffs:
        reason = FEW_REPEATS
    elif squares <= 0.0:
        reason = NO_VARIATION
    else:
        usual = usual_scatter(quantity.column) if riffs else 0.0
        if usual > 0.0:
            squares += KNOWN_DF * usual**2
            df += int(KNOWN_DF)
        sd = (squares / df) ** 0.5
        spread = float(quantity.from_scale(sd))
        # Riffs are judged by their repeats, all together; notes by how they agree.
        of = (max(n, 1) * len(counts), 1) if riffs else (max(n, 1), len(counts))
        change = smallest_change(of[0], sd, notes=of[1])
        reason = ONE_PLUCK if change is None else ""
        smallest = None if change is None else float(quantity.from_scale(change))
    unit = quantity.units[0]
    return Resolved(
        stage,
        voice,
        output,
        quantity.column,
        quantity.label,
        unit,
        smallest,
        _threshold(quantity, unit),
        spread,
        len(counts),
        n,
        reason,
    )


def _threshold(quantity: Quantity, unit: str) -> float | None:
    """Return the nearer side of the hearing threshold, None when none is known in this unit."""
    known = THRESHOLDS.get(quantity.threshold)
    if known is None or known.unit != unit:
        return None
    return min(known.below, known.above)


def _of_quiets(checked: Checked, stage: str) -> Iterator[Resolved]:
    table = checked.quiet[checked.quiet["stage"] == stage]
    for (voice, output), rows in table.groupby(["voice", "output"], sort=False):
        for name in OF_QUIETS:
            quantity = quantity_of(name)
            spread = rows[f"{name}_se"].to_numpy(float) if f"{name}_se" in rows else np.zeros(0)
            spread = spread[np.isfinite(spread) & (spread > 0.0)]
            u = float(np.sum(spread**-2.0) ** -0.5) if len(spread) else None
            apart = None if u is None else float(np.hypot(u, between_recordings_db(name)))
            yield Resolved(
                stage,
                str(voice),
                str(output),
                name,
                quantity.label,
                "dB",
                None if apart is None else _QUIET_FACTOR * apart,
                _threshold(quantity, "dB"),
                u,
                0,
                len(spread),
                "" if u is not None else NO_STRETCH,
            )
