"""What all magnetic outputs of one guitar together tell of their resonances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray

#: Stage, voice and output.
OutputKey = tuple[str, str, str]


@dataclass(frozen=True, eq=False)
class SharedRelease:
    """Low-passes of all outputs of an instrument.

    ``low_pass`` (V, 2): log f_r and log Q of each of ``keys``; ``covariance`` (2V, 2V), of the fit
    and of what the notes differ by; ``top_hz`` (V,) how far the second farthest note reaches.
    """

    keys: tuple[OutputKey, ...]
    low_pass: FloatArray
    covariance: FloatArray
    top_hz: FloatArray
    converged: bool

    def sd(self, key: OutputKey) -> FloatArray:
        """Return standard uncertainties of log f_r and log Q of one output, (2,)."""
        v = self.keys.index(key)
        return np.asarray(np.sqrt(np.diag(self.covariance)[2 * v : 2 * v + 2]))

    def known_as(self, also: Mapping[OutputKey, OutputKey]) -> SharedRelease:
        """Return the same with outputs under other names (new: old) besides their own."""
        added = {new: old for new, old in also.items() if old in self.keys}
        keys = (*self.keys, *added)
        index = np.array([self.keys.index(added.get(key, key)) for key in keys])
        both = np.stack([2 * index, 2 * index + 1], axis=1).ravel()
        return SharedRelease(
            keys,
            self.low_pass[index],
            self.covariance[np.ix_(both, both)],
            self.top_hz[index],
            self.converged,
        )

    def difference(self, before: OutputKey, after: OutputKey) -> tuple[FloatArray, FloatArray]:
        """Return by how much log f_r and log Q differ, after minus before, and how sure, (2,) each.

        What the common release leaves open of both is the same and drops out.
        """
        b, a = self.keys.index(before), self.keys.index(after)
        turn = np.zeros((2, 2 * len(self.keys)))
        turn[[0, 1], [2 * b, 2 * b + 1]] -= 1.0
        turn[[0, 1], [2 * a, 2 * a + 1]] += 1.0
        variance = np.diag(turn @ self.covariance @ turn.T)
        return self.low_pass[a] - self.low_pass[b], np.asarray(np.sqrt(np.maximum(variance, 0.0)))
