"""The rows of a voice's first moments as cells, and the low-pass that a loaded coil makes of them.

A cell is the log power around one partial, 1/n² taken out, repeats of a note averaged. Whatever
pick and pickup do to it hangs on the wave number u = n / L alone: both combs, the widths of coil
and pick, two coils, a second pickup. What circuit and release do hangs on the frequency alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.early_row import EarlyRow

#: Sounding length over scale length, and the early row, of every pluck of an output.
Rows = Sequence[tuple[float, EarlyRow]]
#: Fewer notes or cells than this say nothing.
LEAST_NOTES, LEAST_CELLS = 3, 60
#: Highest wave number used, in partials of the open string: beyond it only one string reaches.
HIGHEST_WAVE = 64.0
#: Share of a cell's scatter about the model that is the same in every repeat of the note.
REPEATED = 0.5
#: Variance of log power from repeat to repeat that a clean partial has, over so many cells.
RESTLESS, NEIGHBOURS = 0.03, 9
#: dB in natural logarithms of power.
DB = np.log(10.0) / 10.0
#: Loaded resonances: 4 kHz and Q 1.6, spread of their logarithms, and how far they may go.
COIL_MIDDLE: FloatArray = np.log(np.array([4000.0, 1.6]))
COIL_SPREAD: FloatArray = np.array([0.7, 0.6])
LOWEST_COIL: FloatArray = np.log(np.array([900.0, 0.4]))
HIGHEST_COIL: FloatArray = np.log(np.array([20000.0, 8.0]))


@dataclass(frozen=True)
class EarlyCells:
    """Cells of all notes, shape (N,): log power less 1/n², share of the scatter, what it is of."""

    y: FloatArray
    share: FloatArray
    frequency_hz: FloatArray
    wave: FloatArray
    note: NDArray[np.intp]
    n_notes: int
    top_hz: float

    @classmethod
    def of(cls, rows: Rows) -> EarlyCells | None:
        """Collect the rows, repeats of a note averaged."""
        notes: dict[tuple[int, int], list[tuple[float, EarlyRow]]] = {}
        for sounding, row in rows:
            semitone = round(12.0 * float(np.log2(row.frequency_hz[0] / 440.0)))
            notes.setdefault((semitone, round(1000.0 * sounding)), []).append((sounding, row))
        means = [_mean_of(repeats) for repeats in notes.values()]
        if len(means) < LEAST_NOTES or sum(mean[0].size for mean in means) < LEAST_CELLS:
            return None
        tops = sorted(float(mean[1][-1]) for mean in means)
        y, hz, wave, share = (np.concatenate([mean[i] for mean in means]) for i in range(4))
        index = np.repeat(np.arange(len(means)), [mean[0].size for mean in means])
        return cls(y, share, hz, wave, index, len(means), tops[-2])


def _mean_of(
    repeats: Sequence[tuple[float, EarlyRow]],
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Log of mean power, frequency, wave number and share of the variance of one note's cells.

    Repeats that reach less far are left out where that leaves more cells (their own slope would
    make a step): the length that has most cells times the root of the repeats.
    """
    sizes = np.sort([row.power.size for _, row in repeats])[::-1]
    size = int(sizes[np.argmax(sizes * np.sqrt(np.arange(1.0, sizes.size + 1.0)))])
    long = [(sounding, row) for sounding, row in repeats if row.power.size >= size]
    order = np.arange(1.0, size + 1.0)
    wave = order / long[0][0]
    level = np.array([np.log(row.power[:size]) for _, row in long]) + 2.0 * np.log(order)
    level -= np.median(level, axis=1, keepdims=True)
    hz = np.mean([row.frequency_hz[:size] for _, row in long], axis=0)
    used = wave <= HIGHEST_WAVE
    share = REPEATED + (1.0 - REPEATED) / len(long) * _unrest(level)
    mean = np.log(np.mean(np.exp(level), axis=0))
    return mean[used], hz[used], wave[used], share[used]


def _unrest(level: FloatArray) -> FloatArray:
    """How much each cell varies from repeat to repeat, its neighbourhood's mean over all, (N,).

    Cells that a scrape of the pick fills, a random one each time, say less than clean partials.
    """
    if len(level) < 2:
        return np.ones(level.shape[1])
    variance = level.var(axis=0, ddof=1)
    half = NEIGHBOURS // 2
    padded = np.pad(variance, half, mode="reflect" if variance.size > half else "edge")
    near = np.convolve(padded, np.ones(NEIGHBOURS) / NEIGHBOURS, mode="valid")
    return np.asarray(near / RESTLESS)


def low_pass_power(frequency_hz: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log power of the low-pass and its derivatives by log f_r and log Q, (…,) and (…, 2)."""
    square = (frequency_hz / np.exp(values[0])) ** 2
    damping = square * np.exp(-2.0 * values[1])
    power = (1.0 - square) ** 2 + damping
    by_resonance = (2.0 * damping - 4.0 * (1.0 - square) * square) / power
    return -np.log(power), np.stack([by_resonance, 2.0 * damping / power], axis=-1)
