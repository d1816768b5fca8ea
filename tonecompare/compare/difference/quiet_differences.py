"""Differences of the quiet: hum, buzz, hiss and noise, from few stretches per voice.

A recording has one or a few quiet stretches, so the scatter from stretch to stretch is poorly
known voice by voice. With few stretches it is pooled over the voices and both stages, quantity by
quantity, and it is not taken to be much less than the measurement's own variance, in which stands
how the level wandered while the stretch lasted (``measure/quiet/wander.py``). Where even the
pool is small, that uncertainty counts like two more degrees of freedom; with a single stretch
everywhere it serves alone, and without it nothing can be judged. What moves between stretches only
(the hand, the guitar turned) a single stretch cannot show; a note says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import (
    ALL_NOTES,
    DifferenceRows,
    join_rows,
    make_rows,
    no_rows,
    text,
)
from tonecompare.compare.difference.stage_pairs import NoteCell, quiet_cells
from tonecompare.compare.difference.statistics import Estimate, combine
from tonecompare.compare.reasons import ONE_STRETCH
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, Quantity, quiet_quantities

#: How far hum and hiss of one state differ from one recording to the next, dB (standard deviation,
#: assumed): a guitar put down and taken up again hangs otherwise in the room's field. No stretch
#: of one recording shows it; without it one report in two without work claimed some hum.
BETWEEN_RECORDINGS_DB = 0.2
HISS_BETWEEN_RECORDINGS_DB = 0.05
#: From this many degrees of freedom on, a voice's own scatter is used.
ENOUGH_DF = 6.0
#: Noise this far under the notes is not heard in the pauses: notes at 80 dB(A), which ITU-T H.870
#: allows for 40 hours a week, in a room of 30 dB(A) (a quiet bedroom: WHO, Guidelines for Community
#: Noise (1999), its table of guideline values seen), in which a tone is heard down to some 15 dB
#: under the whole noise (a third of an octave of it; assumed).
FAINT_DB = 65.0
#: How many degrees of freedom the stretches' own uncertainty is worth beside a pooled scatter.
OWN_DF = 2.0
#: The scatter from stretch to stretch is at least this share of the stretches' own variance: not
#: all of it, since that is widened for what one stretch cannot see and several show.
OWN_FLOOR = 0.5


def quiet_block(
    comparison: str, before: str, after: str, measurements: Measurements
) -> DifferenceRows:
    """Return the rows of the quiet of every voice and output that both stages have."""
    quantities = quiet_quantities()
    first = quiet_cells(measurements.quiet, before, quantities)
    second = quiet_cells(measurements.quiet, after, quantities)
    keys = [key for key in first if key in second]
    if not keys:
        return no_rows()
    sides = [[cells[key] for key in keys] for cells in (first, second)]
    pooled, pooled_df = pooled_variance([cell for side in sides for cell in side])
    blocks = []
    for index, key in enumerate(keys):
        one, other = sides[0][index], sides[1][index]
        estimate = of_recordings(quiet_difference(one, other, pooled, pooled_df), quantities)
        unjudged = text("", len(quantities))
        unjudged[np.isfinite(estimate.difference) & ~np.isfinite(estimate.se)] = ONE_STRETCH
        blocks.append(
            make_rows(
                comparison,
                key[0],
                key[1],
                text(ALL_NOTES, len(quantities)),
                quantities,
                means=(one.mean, other.mean),
                counts=(one.count, other.count, np.zeros(len(quantities))),
                estimate=estimate,
                repeat_variance=estimate.se**2,
                unjudged=unjudged,
            )
        )
    return join_rows(blocks)


def of_recordings(estimate: Estimate, quantities: Sequence[Quantity]) -> Estimate:
    """Add what two recordings of one state differ by: ``se² + 2 b²``, known without repeats."""
    between_db = np.array(
        [
            HISS_BETWEEN_RECORDINGS_DB if q.column == "hiss_dbfs" else BETWEEN_RECORDINGS_DB
            for q in quantities
        ]
    )
    variances = np.stack([estimate.se**2, 2.0 * between_db**2])
    dfs = np.stack([estimate.df, np.full(between_db.size, np.inf)])
    return combine(estimate.difference, variances, dfs)


def pooled_variance(cells: list[NoteCell]) -> tuple[FloatArray, FloatArray]:
    """Pool the variances of cells, quantity by quantity; return variance and degrees of freedom."""
    df = np.stack([np.maximum(cell.count - 1.0, 0.0) for cell in cells])
    squares = np.stack([np.where(cell.count > 1.0, cell.variance, 0.0) for cell in cells]) * df
    total = df.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return squares.sum(axis=0) / total, total


def quiet_difference(
    before: NoteCell, after: NoteCell, pooled: FloatArray, pooled_df: FloatArray
) -> Estimate:
    """Give the difference of two quiets with the best-known scatter (see the module)."""
    difference = after.mean - before.mean
    # A quantity that no stretch of one side has gives no estimate.
    n_before = np.where(before.count > 0.0, before.count, np.nan)
    n_after = np.where(after.count > 0.0, after.count, np.nan)
    own = combine(
        difference,
        np.stack([before.variance / n_before, after.variance / n_after]),
        np.stack([n_before - 1.0, n_after - 1.0]),
    )
    own_se = np.fmax(before.own_se, after.own_se)
    scatter, scatter_df = _with_own(np.fmax(pooled, OWN_FLOOR * own_se**2), pooled_df, own_se**2)
    together = np.sqrt(scatter * (1.0 / n_before + 1.0 / n_after))
    enough = (before.count + after.count - 2.0 >= ENOUGH_DF) & np.isfinite(own.se)
    return Estimate(
        difference,
        np.where(enough, np.fmax(own.se, 0.0), together),
        np.where(enough, own.df, scatter_df),
    )


def _with_own(
    pooled: FloatArray, pooled_df: FloatArray, own: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Weigh the pooled variance with the stretches' own by degrees of freedom where it has few."""
    alone = ((pooled_df >= ENOUGH_DF) | ~np.isfinite(own)) & (pooled_df > 0.0)
    nothing = pooled_df <= 0.0
    with np.errstate(invalid="ignore"):
        both = (pooled_df * pooled + OWN_DF * own) / (pooled_df + OWN_DF)
    return (
        np.where(nothing, own, np.where(alone, pooled, both)),
        np.where(nothing, np.inf, np.where(alone, pooled_df, pooled_df + OWN_DF)),
    )


def add_signal(quiet: DifferenceRows, plucks: DifferenceRows) -> DifferenceRows:
    """Return the quiet rows with the plucks' uncertainty added to signal over hum.

    All stretches of a voice share the voice's signal level, so their scatter cannot show it.
    """
    level = _index("level_dbfs")
    rows = np.flatnonzero(quiet.quantity == _index("signal_to_hum_db"))
    if rows.size == 0:
        return quiet
    known = {
        (voice, output): row
        for row, (voice, output) in enumerate(zip(plucks.voice, plucks.output, strict=True))
        if plucks.quantity[row] == level and plucks.note[row] == ALL_NOTES
    }
    se, df = quiet.se.copy(), quiet.df.copy()
    for row in rows:
        pluck_row = known.get((quiet.voice[row], quiet.output[row]))
        if pluck_row is None or not np.isfinite(plucks.raw_se[pluck_row]):
            continue
        # The ratio holds the level as recorded, not at one glide.
        total = combine(
            0.0,
            np.array([se[row] ** 2, plucks.raw_se[pluck_row] ** 2]),
            np.array([df[row], plucks.raw_df[pluck_row]]),
        )
        se[row], df[row] = float(total.se), float(total.df)
    return replace(quiet, se=se, df=df, test_se=se, test_df=df, raw_se=se, raw_df=df)


def faint_noise(block: DifferenceRows) -> FloatArray:
    """Return by how many dB a voice's noise lies under its notes where it is too faint to hear.

    At one value per row: the notes' level less the A-weighted noise of the louder side, where that
    exceeds :data:`FAINT_DB`; NaN elsewhere and for rows that are not of the quiet.
    """
    level, noise = _index("level_dbfs"), _index("noise_a_dbfs")
    heard: dict[tuple[str, str, str, int], float] = {}
    keys = list(zip(block.comparison, block.voice, block.output, strict=True))
    for row in np.flatnonzero((block.note == ALL_NOTES) & np.isin(block.quantity, (level, noise))):
        louder = float(np.fmax(block.mean_before[row], block.mean_after[row]))
        heard[(*keys[row], int(block.quantity[row]))] = louder
    quiet = np.array([quantity.quiet for quantity in QUANTITIES])[block.quantity]
    nothing = float("nan")
    under = np.array(
        [heard.get((*key, level), nothing) - heard.get((*key, noise), nothing) for key in keys]
    )
    return np.where(quiet & (under > FAINT_DB), under, nothing)


def _index(column: str) -> int:
    return next(i for i, quantity in enumerate(QUANTITIES) if quantity.column == column)
