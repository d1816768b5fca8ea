"""A coil's resonance from the whole rows of partials of a voice, wherever it was picked.

Whatever pick and pickup do to a string's partials hangs on the wave number u = n / L alone: both
combs, the widths of coil and pick, two coils, a second pickup. What the circuit does hangs on the
frequency alone. Strings of other pitch have the same partial at another frequency, so that the two
come apart without a place being known (an additive model):

    y = g_i + s_i lg2(f) + c_i f² + A(u) + low-pass(f; f_r, Q)

with y the log power of a cell, 1/n² taken out, i the note, g, s, c its strength, slope and release
(and decay), A any function of u, straight between whole numbers. What a pickup's bent flux adds is
made before the circuit and shaped by it like all else. Student's t keeps nulls from counting:
iteratively reweighted Gauss-Newton (Lange, Little & Taylor, J. Am. Stat. Assoc. 84 (1989) 881).
The uncertainty is the fit's and, besides, what the notes differ by (delete-one-note jackknife).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.early_row import EarlyRow

#: Fewer notes or cells than this say nothing.
LEAST_NOTES, LEAST_CELLS = 3, 60
#: Highest wave number used, in partials of the open string: beyond it only one string reaches.
HIGHEST_WAVE = 64.0
#: Degrees of freedom of Student's t.
TAILS = 4.0
#: Share of a cell's scatter about the model that is the same in every repeat of the note.
REPEATED = 0.5
#: dB in natural logarithms of power.
_DB = np.log(10.0) / 10.0
#: Spread (dB) of slopes an octave and of bends a kHz² over notes; of those all have in common, with
#: the next order; of A(u).
_SLOPE, _BEND, _COMMON, _WAVES = 1.5, 0.3, (6.0, 0.6, 0.004), 10.0
#: A pick that slips lets go as a low-pass of the first order would: such ones (Hz) that all notes
#: have in common, and the spread of each (dB of its logarithm; 4.3 is one whole low-pass).
_RELEASES_HZ: FloatArray = np.array([1000.0, 2000.0, 4000.0])
_RELEASE = 4.3
#: Loaded resonances: 4 kHz and Q 1.6, spread of their logarithms.
_MIDDLE: FloatArray = np.log(np.array([4000.0, 1.6]))
_SPREAD: FloatArray = np.array([0.7, 0.6])
_LOWEST: FloatArray = np.log(np.array([900.0, 0.4]))
_HIGHEST: FloatArray = np.log(np.array([20000.0, 8.0]))
#: Longest step of both, and where the search begins.
_STEPS: FloatArray = np.array([0.2, 0.4])
_START_HZ, _START_Q = np.geomspace(1500.0, 8000.0, 22), np.array([0.8, 1.6, 3.0])
_N_STARTS, _ROUNDS, _FLAT_ROUNDS = 2, 12, 20
#: Scatter of log power at the start (3 dB).
_START_SCATTER2 = 0.5


@dataclass(frozen=True)
class CoilResponse:
    """A fitted low-pass.

    ``log_resonance``, ``log_q`` with ``sd`` and ``sd_by_notes`` (2,), those of the fit and of the
    jackknife over notes; ``evidence`` by how much twice the negative log likelihood is worse
    without a low-pass; ``top_hz`` how far the second farthest note reaches; ``scatter_db`` of
    the cells; ``converged`` whether the fit came to rest.
    """

    log_resonance: float
    log_q: float
    sd: FloatArray
    sd_by_notes: FloatArray
    evidence: float
    top_hz: float
    scatter_db: float
    converged: bool


def fit_coil_response(rows: Sequence[tuple[float, EarlyRow]]) -> CoilResponse | None:
    """Fit the model to the rows of a voice.

    Parameters
    ----------
    rows
        Of every pluck: sounding length over scale length, and its early row.

    Returns
    -------
    CoilResponse or None
        None for too few notes or partials.
    """
    cells = _Cells.of(rows)
    if cells is None:
        return None
    columns, precision = _linear(cells)
    found = min(
        (_fit(cells, columns, precision, start) for start in _starts(cells, columns, precision)),
        key=lambda fit: fit.cost,
    )
    flat = _fit(cells, columns, precision, None, scatter2=found.scatter2)
    return CoilResponse(
        log_resonance=float(found.low_pass[0]),
        log_q=float(found.low_pass[1]),
        sd=found.sd,
        sd_by_notes=_by_notes(cells, found, precision),
        evidence=flat.cost - found.cost,
        top_hz=cells.top_hz,
        scatter_db=float(np.sqrt(found.scatter2)) / _DB,
        converged=found.converged,
    )


@dataclass(frozen=True)
class _Cells:
    """Cells of all notes, shape (N,): log power less 1/n², share of the scatter, what it is of."""

    y: FloatArray
    share: FloatArray
    frequency_hz: FloatArray
    wave: FloatArray
    note: NDArray[np.intp]
    n_notes: int
    top_hz: float

    @classmethod
    def of(cls, rows: Sequence[tuple[float, EarlyRow]]) -> _Cells | None:
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
    """Mean log power, frequency, wave number and share of the variance of one note's cells.

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
    share = np.full(size, REPEATED + (1.0 - REPEATED) / len(long))
    return level.mean(axis=0)[used], hz[used], wave[used], share[used]


def _linear(cells: _Cells) -> tuple[FloatArray, FloatArray]:
    """Columns of all that enters linearly, (N, K), and the precision of each, (K,)."""
    own = (cells.note[:, None] == np.arange(cells.n_notes)).astype(float)
    octave = np.log2(cells.frequency_hz / 1500.0)[:, None]
    khz2 = ((cells.frequency_hz / 1000.0) ** 2)[:, None]
    releases = np.log1p((cells.frequency_hz[:, None] / _RELEASES_HZ) ** 2)
    knots = np.arange(0.0, np.ceil(cells.wave.max()) + 1.0)
    waves = np.maximum(0.0, 1.0 - np.abs(cells.wave[:, None] - knots))
    columns = np.concatenate(
        [own, own * octave, own * khz2, octave, khz2, khz2**2, releases, waves], axis=1
    )
    n = cells.n_notes
    spread = np.concatenate([
        np.full(n, 1e3), np.full(n, _SLOPE), np.full(n, _BEND), _COMMON,
        np.full(_RELEASES_HZ.size, _RELEASE),
        np.full(knots.size, _WAVES),
    ])  # fmt: skip
    return columns, (spread * _DB) ** -2.0


def _low_pass(frequency_hz: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log power of the low-pass and its derivatives by log f_r and log Q, (…,) and (…, 2)."""
    square = (frequency_hz / np.exp(values[0])) ** 2
    damping = square * np.exp(-2.0 * values[1])
    power = (1.0 - square) ** 2 + damping
    by_resonance = (2.0 * damping - 4.0 * (1.0 - square) * square) / power
    return -np.log(power), np.stack([by_resonance, 2.0 * damping / power], axis=-1)


def _starts(cells: _Cells, columns: FloatArray, precision: FloatArray) -> list[FloatArray]:
    """Deepest minima over the resonance on a grid, all that is linear fitted at once."""
    root = 1.0 / np.sqrt(cells.share * _START_SCATTER2)
    whole = np.concatenate([columns * root[:, None], np.diag(np.sqrt(precision))])
    q, _ = np.linalg.qr(whole)
    q = q[: cells.y.size]
    grid = np.stack(np.meshgrid(np.log(_START_HZ), np.log(_START_Q), indexing="ij"))
    pairs = grid.reshape(2, -1)
    low, _ = _low_pass(cells.frequency_hz[:, None], pairs)
    left = (cells.y[:, None] - low) * root[:, None]
    cost = np.sum(left**2, axis=0) - np.sum((q.T @ left) ** 2, axis=0)
    cost += np.sum(((pairs - _MIDDLE[:, None]) / _SPREAD[:, None]) ** 2, axis=0)
    table = cost.reshape(grid.shape[1:])
    best = table.min(axis=1)
    padded = np.concatenate([[np.inf], best, [np.inf]])
    minima = np.flatnonzero((padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:]))
    minima = minima[np.argsort(best[minima])][:_N_STARTS]
    return [grid[:, i, int(np.argmin(table[i]))] for i in minima]


@dataclass(frozen=True)
class _Fit:
    """Low-pass (2,) found, standard uncertainties, cost, and the last step's columns and weights.

    ``low_pass`` is empty for a fit without.
    """

    low_pass: FloatArray
    sd: FloatArray
    cost: float
    scatter2: float
    columns: FloatArray
    weight: FloatArray
    residual: FloatArray
    converged: bool


def _fit(
    cells: _Cells,
    columns: FloatArray,
    precision: FloatArray,
    start: FloatArray | None,
    *,
    scatter2: float = _START_SCATTER2,
) -> _Fit:
    """Reweighted Gauss-Newton from a start of the low-pass, or without one."""
    n_linear = columns.shape[1]
    values = np.zeros(0) if start is None else start
    spread = _SPREAD[: values.size] ** -2.0
    both = np.concatenate([precision, spread])
    level, slopes = np.zeros_like(cells.y), np.zeros((cells.y.size, 0))
    if start is not None:
        level, slopes = _low_pass(cells.frequency_hz, values)
    weight = 1.0 / (cells.share * scatter2)
    linear = np.linalg.solve(
        (columns.T * weight) @ columns + np.diag(precision),
        columns.T @ (weight * (cells.y - level)),
    )
    spare, converged = 1.0, False
    for _ in range(_FLAT_ROUNDS if start is None else _ROUNDS):
        left = cells.y - level - columns @ linear
        for _ in range(2):
            weight = (TAILS + 1.0) / (TAILS + left**2 / (scatter2 * cells.share))
            scatter2 = max(1e-4, spare * float(np.mean(weight * left**2 / cells.share)))
        weight = weight / (scatter2 * cells.share)
        jacobian = np.concatenate([columns, slopes], axis=1)
        covariance = np.linalg.inv((jacobian.T * weight) @ jacobian + np.diag(both))
        here = np.concatenate([linear, values - _MIDDLE[: values.size]])
        step = covariance @ (jacobian.T @ (weight * left) - both * here)
        # Parameters that the prior holds cost no degrees of freedom.
        used = both.size - float(np.diag(covariance) @ both)
        spare = cells.y.size / max(cells.y.size - used, 0.2 * cells.y.size)
        sd = np.sqrt(np.diag(covariance)[n_linear:])
        move = step[n_linear:]
        if start is None:
            linear = linear + step
            converged = bool(np.max(np.abs(step)) < 0.02)
        else:
            size = min(1.0, float(np.min(_STEPS / np.maximum(np.abs(move), 1e-12))))
            linear = linear + size * step[:n_linear]
            values = np.clip(values + size * move, _LOWEST, _HIGHEST)
            level, slopes = _low_pass(cells.frequency_hz, values)
            converged = bool(np.all(np.abs(move) < 0.05 * sd))
        if converged:
            break
    left = cells.y - level - columns @ linear
    variance = scatter2 * cells.share
    here = np.concatenate([linear, values - _MIDDLE[: values.size]])
    cost = float(
        np.sum((TAILS + 1.0) * np.log1p(left**2 / (variance * TAILS)) + np.log(variance))
        + np.sum(both * here**2)
    )
    weight = (TAILS + 1.0) / (TAILS + left**2 / variance) / variance
    jacobian = np.concatenate([columns, slopes], axis=1)
    return _Fit(values, sd, cost, scatter2, jacobian, weight, left, converged)


def _by_notes(cells: _Cells, fit: _Fit, precision: FloatArray) -> FloatArray:
    """Jackknife uncertainty of the low-pass over notes, each left out by one Gauss-Newton step."""
    both = np.concatenate([precision, _SPREAD**-2.0])
    normal = (fit.columns.T * fit.weight) @ fit.columns + np.diag(both)
    moved = []
    for note in range(cells.n_notes):
        part = cells.note == note
        weighted = fit.columns[part].T * fit.weight[part]
        rest = normal - weighted @ fit.columns[part]
        moved.append(-np.linalg.solve(rest, weighted @ fit.residual[part])[-2:])
    off = np.array(moved) - np.mean(moved, axis=0)
    return np.asarray(np.sqrt((cells.n_notes - 1.0) / cells.n_notes * np.sum(off**2, axis=0)))
