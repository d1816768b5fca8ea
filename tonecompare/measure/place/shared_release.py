"""The resonances of all magnetic outputs of one guitar at once, beside the hand's common release.

How a pick lets go bends the treble of every note as a coil does, over frequency alone: from one
pickup the two cannot be told apart without taking the form of the release for known. But the hand
is the same whatever pickup hears it. So all outputs are fitted together,

    y = g_i + s_i lg2(f) + c_i f² + A_v(u) + R(f) + low-pass(f; f_v, Q_v),

v the output, i one of its notes, u = n / L the wave number and A_v any function of it (places,
widths, pairs of coils); R, any smooth function of the frequency, is common to all. What is in R
cannot be told, what outputs differ by can: two resonances that differ stand both, as do one before
and one after the work; of pickups that are alike only the difference is known, and the covariance
says so. What a pickup's bent flux adds is made before the circuit and shaped by it like all else.
Student's t keeps nulls from counting: iteratively reweighted Gauss-Newton (Lange, Little & Taylor,
J. Am. Stat. Assoc. 84 (1989) 881).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.place.early_cells import (
    COIL_MIDDLE,
    COIL_SPREAD,
    DB,
    HIGHEST_COIL,
    LOWEST_COIL,
    EarlyCells,
    Rows,
    low_pass_power,
)
from tonecompare.measure.resonances import OutputKey, SharedRelease

#: Spread (dB) over notes of slopes an octave and of bends a kHz², over outputs of the same, of
#: A(u); of R's slope and bend; of R about those, and of its second differences.
_SLOPE, _BEND, _OWN_SLOPE, _OWN_BEND, _WAVES = 1.5, 0.3, 2.0, 0.4, 20.0
_COMMON, _RELEASE, _SMOOTH = (6.0, 1.5), 10.0, 3.0
#: Where R has its knots, octaves apart.
_KNOTS: FloatArray = np.arange(np.log2(300.0), np.log2(9000.0) + 0.25, 0.25)
#: Neighbouring cells that may be left over alike.
_NEIGHBOURS = 4
#: Where the search begins; how often it goes round the outputs; steps of the fit.
_START: FloatArray = np.log(
    np.stack(np.meshgrid(np.geomspace(1500.0, 8000.0, 18), [0.8, 1.6, 3.0]), axis=-1).reshape(-1, 2)
)
_TURNS, _ROUNDS = 3, 30
_LONGEST: FloatArray = np.array([0.2, 0.4])
_START_SCATTER2, _TAILS = 0.5, 4.0
#: Few notes: the mean of what fit and jackknife state (variances) counts so many times.
_NOTES_ARE_FEW = 1.4


def fit_shared_release(rows: Mapping[OutputKey, Rows]) -> SharedRelease | None:
    """Fit all outputs that one hand played.

    Parameters
    ----------
    rows
        Of every output its plucks' sounding length over scale length, and early row.

    Returns
    -------
    SharedRelease or None
        Outputs with too few notes or partials are not in it; None where none has enough.
    """
    cells = {key: one for key, of in rows.items() if (one := EarlyCells.of(of)) is not None}
    if not cells:
        return None
    notes = sorted({note for one in cells.values() for note in _notes_of(one)})
    outputs = {key: _OutputCells.of(one, notes) for key, one in cells.items()}
    fit = _SharedFit(tuple(outputs.values()))
    return SharedRelease(
        tuple(outputs),
        fit.low_pass,
        0.5 * _NOTES_ARE_FEW**2 * (fit.dependence() * fit.covariance() + fit.by_notes()),
        np.array([one.cells.top_hz for one in outputs.values()]),
        fit.converged,
    )


@dataclass(frozen=True)
class _OutputCells:
    """Cells of an output, its own columns (N, K) with their precision (K,), those of R (N, M)."""

    cells: EarlyCells
    columns: FloatArray
    precision: FloatArray
    common: FloatArray
    #: Which of all notes each cell belongs to.
    note: NDArray[np.intp]

    @classmethod
    def of(cls, cells: EarlyCells, notes: Sequence[tuple[int, int]]) -> _OutputCells:
        n = cells.n_notes
        own = (cells.note[:, None] == np.arange(n)).astype(float)
        octave = np.log2(cells.frequency_hz / 1500.0)[:, None]
        khz2 = ((cells.frequency_hz / 1000.0) ** 2)[:, None]
        knots = np.arange(0.0, np.ceil(cells.wave.max()) + 1.0)
        waves = np.maximum(0.0, 1.0 - np.abs(cells.wave[:, None] - knots))
        spread = np.concatenate([
            np.full(n, 1e3), np.full(n, _SLOPE), np.full(n, _BEND), [_OWN_SLOPE, _OWN_BEND],
            np.full(knots.size, _WAVES),
        ])  # fmt: skip
        index = np.array([notes.index(note) for note in _notes_of(cells)])[cells.note]
        hats = np.abs(np.log2(cells.frequency_hz)[:, None] - _KNOTS) / (_KNOTS[1] - _KNOTS[0])
        return cls(
            cells,
            np.concatenate([own, own * octave, own * khz2, octave, khz2, waves], axis=1),
            (spread * DB) ** -2.0,
            np.concatenate([octave, khz2, np.maximum(0.0, 1.0 - hats)], axis=1),
            index,
        )


def _notes_of(cells: EarlyCells) -> list[tuple[int, int]]:
    """Semitone and sounding length of each note, the same in every output."""
    first = [int(np.flatnonzero(cells.note == note)[0]) for note in range(cells.n_notes)]
    return [
        (round(12.0 * float(np.log2(cells.frequency_hz[i] / 440.0))), round(100.0 * cells.wave[i]))
        for i in first
    ]


def _common_precision() -> FloatArray:
    second = np.diff(np.eye(_KNOTS.size), n=2, axis=0)
    spread = np.concatenate([_COMMON, np.full(_KNOTS.size, _RELEASE)])
    found = np.diag((spread * DB) ** -2.0)
    found[len(_COMMON) :, len(_COMMON) :] += second.T @ second / (_SMOOTH * DB) ** 2
    return found


class _SharedFit:
    """Reweighted Gauss-Newton, each output's own parameters eliminated from what is common."""

    def __init__(self, outputs: Sequence[_OutputCells]) -> None:
        self.outputs = outputs
        self.common_precision = _common_precision()
        self.low_pass = self._start()
        self.own = [np.zeros(one.precision.size) for one in outputs]
        self.common = np.zeros(len(self.common_precision))
        self.scatter2, self.spare, self.converged = _START_SCATTER2, 1.0, False
        self.weight = [1.0 / (one.cells.share * self.scatter2) for one in outputs]
        self._step(self.weight, low_pass=False)
        for _ in range(_ROUNDS):
            self._weigh()
            moved = self._step(self.weight)
            sd = np.sqrt(np.diag(self.covariance())).reshape(-1, 2)
            self.converged = bool(np.all(np.abs(moved) < 0.05 * sd))
            if self.converged:
                break
        self._weigh()

    def _left(self) -> list[FloatArray]:
        """Return what the model leaves of every output's cells."""
        return [
            one.cells.y
            - low_pass_power(one.cells.frequency_hz, values)[0]
            - one.columns @ own
            - one.common @ self.common
            for one, own, values in zip(self.outputs, self.own, self.low_pass, strict=True)
        ]

    def _weigh(self) -> None:
        """Student's weights and the scatter that belongs to them."""
        left = np.concatenate(self._left())
        share = np.concatenate([one.cells.share for one in self.outputs])
        weight = np.ones_like(left)
        for _ in range(2):
            weight = (_TAILS + 1.0) / (_TAILS + left**2 / (self.scatter2 * share))
            self.scatter2 = max(1e-4, self.spare * float(np.mean(weight * left**2 / share)))
        ends = np.cumsum([one.cells.y.size for one in self.outputs])[:-1]
        self.weight = np.split(weight / (self.scatter2 * share), ends)

    def _blocks(self, weight: Sequence[FloatArray]) -> tuple[list[FloatArray], ...]:
        """Own normal matrices' inverses, what couples them to R, and columns with the low-pass."""
        inverses, couplings, columns = [], [], []
        for one, values, w in zip(self.outputs, self.low_pass, weight, strict=True):
            slopes = low_pass_power(one.cells.frequency_hz, values)[1]
            both = np.concatenate([one.columns, slopes], axis=1)
            precision = np.concatenate([one.precision, COIL_SPREAD**-2.0])
            inverses.append(np.linalg.inv((both.T * w) @ both + np.diag(precision)))
            couplings.append((both.T * w) @ one.common)
            columns.append(both)
        return inverses, couplings, columns

    def _rest(
        self, weight: Sequence[FloatArray], inverses: list[FloatArray], couplings: list[FloatArray]
    ) -> FloatArray:
        """Covariance of R once every output's own parameters are eliminated."""
        normal = self.common_precision.copy()
        for one, inverse, coupling, w in zip(
            self.outputs, inverses, couplings, weight, strict=True
        ):
            normal += (one.common.T * w) @ one.common - coupling.T @ inverse @ coupling
        return np.asarray(np.linalg.inv(normal))

    def _moves(
        self, weight: Sequence[FloatArray]
    ) -> tuple[list[FloatArray], FloatArray, list[FloatArray], list[FloatArray], FloatArray]:
        """One Gauss-Newton step of all parameters under some weights, and what it came from."""
        inverses, couplings, columns = self._blocks(weight)
        rest = self._rest(weight, inverses, couplings)
        pulls = []
        pull = -self.common_precision @ self.common
        for one, own, values, both, w, left in zip(
            self.outputs, self.own, self.low_pass, columns, weight, self._left(), strict=True
        ):
            here = np.concatenate([own * one.precision, (values - COIL_MIDDLE) / COIL_SPREAD**2])
            pulls.append(both.T @ (w * left) - here)
            pull = pull + one.common.T @ (w * left)
        for inverse, coupling, own_pull in zip(inverses, couplings, pulls, strict=True):
            pull = pull - coupling.T @ (inverse @ own_pull)
        common = rest @ pull
        own_moves = [
            inverse @ (own_pull - coupling @ common)
            for inverse, coupling, own_pull in zip(inverses, couplings, pulls, strict=True)
        ]
        return own_moves, common, inverses, couplings, rest

    def _step(self, weight: Sequence[FloatArray], *, low_pass: bool = True) -> FloatArray:
        """Take a step; return how far the low-passes wanted to go, (V, 2)."""
        moves, common, inverses, couplings, rest = self._moves(weight)
        wanted = np.array([move[-2:] for move in moves])
        size = min(1.0, float(np.min(_LONGEST / np.maximum(np.abs(wanted), 1e-12))))
        size = size if low_pass else 1.0
        self.own = [own + size * move[:-2] for own, move in zip(self.own, moves, strict=True)]
        self.common = self.common + size * common
        if low_pass:
            self.low_pass = np.clip(self.low_pass + size * wanted, LOWEST_COIL, HIGHEST_COIL)
        # Parameters that their priors hold cost no degrees of freedom.
        held = float(np.sum(self.common_precision * rest))
        count = self.common.size + sum(inverse.shape[0] for inverse in inverses)
        for one, inverse, coupling in zip(self.outputs, inverses, couplings, strict=True):
            part = inverse @ coupling
            variance = np.diag(inverse) + np.einsum("ij,jk,ik->i", part, rest, part)
            held += float(variance @ np.concatenate([one.precision, COIL_SPREAD**-2.0]))
        cells = sum(one.cells.y.size for one in self.outputs)
        self.spare = cells / max(cells - (count - held), 0.2 * cells)
        return wanted

    def covariance(self) -> FloatArray:
        """Covariance of all low-passes, (2V, 2V)."""
        inverses, couplings, _ = self._blocks(self.weight)
        rest = self._rest(self.weight, inverses, couplings)
        parts = np.concatenate(
            [(inv @ coupling)[-2:] for inv, coupling in zip(inverses, couplings, strict=True)]
        )
        found = parts @ rest @ parts.T
        for v, inverse in enumerate(inverses):
            found[2 * v : 2 * v + 2, 2 * v : 2 * v + 2] += inverse[-2:, -2:]
        return np.asarray(found)

    def dependence(self) -> float:
        """How many cells count as one, since neighbours are left over alike."""
        products, squares = np.zeros(_NEIGHBOURS), 0.0
        for one, left, w in zip(self.outputs, self._left(), self.weight, strict=True):
            rest = left * np.sqrt(w)
            squares += float(rest @ rest) / rest.size
            for lag in range(1, _NEIGHBOURS + 1):
                alike = one.note[lag:] == one.note[:-lag]
                products[lag - 1] += float(np.mean((rest[lag:] * rest[:-lag])[alike]))
        return float(max(1.0, 1.0 + 2.0 * np.sum(products) / squares))

    def by_notes(self) -> FloatArray:
        """Jackknife covariance over notes, each left out everywhere by one Gauss-Newton step."""
        notes = np.unique(np.concatenate([one.note for one in self.outputs]))
        moved = []
        for note in notes:
            rest = [
                np.where(one.note == note, 0.0, w)
                for one, w in zip(self.outputs, self.weight, strict=True)
            ]
            moved.append(np.concatenate([move[-2:] for move in self._moves(rest)[0]]))
        off = np.array(moved) - np.mean(moved, axis=0)
        return np.asarray((notes.size - 1.0) / notes.size * (off.T @ off))

    def _start(self) -> FloatArray:
        """Deepest low-passes on a grid, one output after the other, all that is linear fitted."""
        normal = self.common_precision.copy()
        pulls, costs = [], []
        for one in self.outputs:
            w = 1.0 / (one.cells.share * _START_SCATTER2)
            inverse = np.linalg.inv((one.columns.T * w) @ one.columns + np.diag(one.precision))
            low = low_pass_power(one.cells.frequency_hz[:, None], _START.T)[0]
            left = one.cells.y[:, None] - low
            own = (one.columns.T * w) @ left
            coupling = (one.columns.T * w) @ one.common
            normal += (one.common.T * w) @ one.common - coupling.T @ inverse @ coupling
            pulls.append((one.common.T * w) @ left - coupling.T @ inverse @ own)
            held = np.sum(((_START - COIL_MIDDLE) / COIL_SPREAD) ** 2, axis=1)
            costs.append(
                np.einsum("ic,i,ic->c", left, w, left)
                - np.einsum("ic,ij,jc->c", own, inverse, own)
                + held
            )
        rest = np.linalg.inv(normal)
        middle = int(np.argmin(np.sum(((_START - COIL_MIDDLE) / COIL_SPREAD) ** 2, axis=1)))
        chosen = [middle] * len(self.outputs)
        for _ in range(_TURNS):
            for v, (pull, cost) in enumerate(zip(pulls, costs, strict=True)):
                others = sum(
                    (pulls[k][:, chosen[k]] for k in range(len(chosen)) if k != v),
                    start=np.zeros(len(rest)),
                )
                whole = pull + others[:, None]
                chosen[v] = int(np.argmin(cost - np.einsum("ic,ij,jc->c", whole, rest, whole)))
        return _START[chosen].copy()
