"""Lowest and highest value of short blocks: one pass over a file that many questions share.

Flat tops, peaks between samples and digital silence are looked for only in the blocks that can
hold them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray

#: Frame length aimed at; the nearest power of two in samples is used.
FRAME_S = 0.0232


def frame_size(rate_hz: float) -> int:
    """Return the samples in a frame; a quarter is the hop, an eighth the block of extremes."""
    return max(16, int(2 ** round(np.log2(FRAME_S * rate_hz))))


@dataclass(frozen=True)
class Extremes:
    """``low`` and ``high`` have shape (channels, blocks), ``block`` is the length in samples.

    The last block may be shorter.
    """

    low: FloatArray
    high: FloatArray
    block: int
    n: int

    @classmethod
    def of(cls, samples: FloatArray, block: int) -> Extremes:
        """Take the extremes of samples (channels, n)."""
        n = samples.shape[1]
        whole = n // block * block
        low, high = (np.empty((samples.shape[0], whole // block)) for _ in range(2))
        # Some 500 blocks at a time stay in the cache.
        for start in range(0, whole, 512 * block):
            part = samples[:, start : min(start + 512 * block, whole)]
            blocks = slice(start // block, (start + part.shape[1]) // block)
            # Turned over, so that long rows are compared: twice as fast as many short ones.
            turned = np.ascontiguousarray(part.reshape(samples.shape[0], -1, block).T)
            low[:, blocks] = turned.min(axis=0).T
            high[:, blocks] = turned.max(axis=0).T
        if whole < n:
            rest = samples[:, whole:]
            low = np.concatenate([low, rest.min(axis=1, keepdims=True)], axis=1)
            high = np.concatenate([high, rest.max(axis=1, keepdims=True)], axis=1)
        return cls(low, high, block, n)

    @property
    def peak(self) -> float:
        """Largest absolute value; not a number when a sample is none."""
        return float(np.maximum(self.high.max(initial=0.0), -self.low.min(initial=0.0)))

    @property
    def span(self) -> FloatArray:
        """Highest less lowest value of each channel."""
        return np.asarray(self.high.max(axis=1) - self.low.min(axis=1))

    def changing(self, starts: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Whether all channels change between each start and the next, in samples.

        ``starts`` ascend and are rounded down to blocks.
        """
        at = np.minimum(starts // self.block, self.low.shape[1] - 1)
        low = np.minimum.reduceat(self.low, at, axis=1)
        high = np.maximum.reduceat(self.high, at, axis=1)
        return np.asarray((low != high).all(axis=0))

    def longest_stillness(self, samples: FloatArray) -> int:
        """Length of the longest run of samples that all channels hold, if over two blocks."""
        still = (self.low == self.high).all(axis=0)
        goes_on = still[1:] & still[:-1] & (self.low[:, 1:] == self.low[:, :-1]).all(axis=0)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], goes_on.astype(np.int8), [0]])))
        longest = 0
        for first, last in edges.reshape(-1, 2):
            # All blocks from first to last stand still; how far it goes on is to be seen beside.
            start, stop = first * self.block, min((last + 1) * self.block, self.n)
            value = samples[:, start : start + 1]
            before = (samples[:, max(0, start - self.block) : start] == value).all(axis=0)
            after = (samples[:, stop : stop + self.block] == value).all(axis=0)
            beside = _leading(before[::-1]) + _leading(after)
            longest = max(longest, stop - start + beside)
        return longest


def _leading(same: NDArray[np.bool_]) -> int:
    """Return how many values are true before the first that is not."""
    return int(np.argmin(np.append(same, False)))


def largest_within(values: FloatArray, size: int) -> FloatArray:
    """Largest of each ``size`` neighbours along the last axis, (…, n) gives (…, n - size + 1).

    Windows of 2, 4, 8 … neighbours from those half as long: a tenth of the time of a filter that
    steps along.
    """
    span, largest = 1, values
    while 2 * span <= size:
        largest = np.maximum(largest[..., :-span], largest[..., span:])
        span *= 2
    rest = size - span
    if rest:
        largest = np.maximum(largest[..., :-rest], largest[..., rest:])
    return largest
