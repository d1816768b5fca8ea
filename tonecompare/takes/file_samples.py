"""Samples that stay in their file: parts are read when they are asked for.

A long take would fill the memory many times over. :class:`FileSamples` has the shape and the parts
of the array it stands for; what looks at a whole file goes over it in :func:`in_blocks`, which
gives an array that is in memory as one block.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

import numpy as np
import soundfile as sf

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.language import tr_later

#: Frames read at a time.
BLOCK = 1 << 19
#: Containers and codings in which any frame can be read without those before it, bit for bit.
_FORMATS = ("WAV", "WAVEX", "RF64", "W64", "AIFF", "CAF", "FLAC")
_SUBTYPES = ("PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")


def can_be_read_in_parts(file: sf.SoundFile) -> bool:
    """Whether parts of the file come out as they do when all of it is read."""
    return file.format in _FORMATS and file.subtype in _SUBTYPES and bool(file.seekable())


class FileSamples:
    """Samples (channels, n), float64, full scale 1.0, of a file; one channel has shape (n,)."""

    def __init__(
        self,
        path: Path,
        channels: tuple[int, ...],
        n: int,
        *,
        flat: bool = False,
        as_it_was: tuple[int, ...] | None = None,
    ):
        self._path, self._channels, self._flat, self._n = path, channels, flat, n
        self._file: sf.SoundFile | None = None
        self._as_it_was = as_it_was or _state(path)
        self._mean: FloatArray | None = None
        self.shape: tuple[int, ...] = (n,) if flat else (len(channels), n)

    @classmethod
    def of(cls, path: Path, channels: int, n: int) -> FloatArray:
        """Return all channels of a file as what stands for their array."""
        return cast("FloatArray", cls(path, tuple(range(channels)), n))

    @property
    def size(self) -> int:
        """Number of samples."""
        return int(np.prod(self.shape))

    def __len__(self) -> int:
        return self.shape[0]

    def __iter__(self) -> Iterator[FileSamples]:
        return (self[i] for i in range(len(self)))

    def __getitem__(self, key: Any) -> Any:
        if self._flat:
            if isinstance(key, np.ndarray):
                return self._gathered(key)
            if isinstance(key, slice):
                return self._read(key)[0]
            at = range(self.size)[int(key)]
            return self._read(slice(at, at + 1))[0, 0]
        if isinstance(key, tuple):
            channels, part = key
            return self._read(part)[channels]
        flat = not isinstance(key, slice)
        chosen = self._channels[key]
        channels = (chosen,) if flat else chosen
        return FileSamples(self._path, channels, self._n, flat=flat, as_it_was=self._as_it_was)

    def mean(self, axis: int = -1) -> Any:
        """Mean of each channel, read block by block."""
        if self._mean is None:
            total = sum(block.sum(axis=1) for _, block in self.blocks())
            self._mean = np.asarray(total) / self._n
        return self._mean[0] if self._flat else self._mean

    def blocks(self) -> Iterator[tuple[int, FloatArray]]:
        """Yield the first frame and the samples (channels, frames) of one block after the other."""
        for start in range(0, self._n, BLOCK):
            yield start, self._read(slice(start, start + BLOCK))

    def _read(self, part: slice) -> FloatArray:
        start, stop, step = part.indices(self._n)
        try:
            if self._file is None:
                self._file = sf.SoundFile(os.fsencode(self._path))
            self._file.seek(start)
            found = self._file.read(max(0, stop - start), dtype="float64", always_2d=True)
        except (sf.LibsndfileError, OSError) as error:
            raise self._changed() from error
        if len(found) != max(0, stop - start) or _state(self._path) != self._as_it_was:
            raise self._changed()
        return np.ascontiguousarray(found.T[list(self._channels), ::step])

    def _changed(self) -> RecordingError:
        what = tr_later("was changed or removed while it was read")
        return RecordingError(self._path, what, tr_later("Run it again once nothing writes to it."))

    def _gathered(self, index: np.ndarray) -> FloatArray:
        """Return samples by ascending index along the last axis, of any shape."""
        found = np.empty(index.shape)
        blocks = index // BLOCK
        for block in np.unique(blocks):
            here = blocks == block
            found[here] = self._read(slice(block * BLOCK, (block + 1) * BLOCK))[0][
                index[here] - block * BLOCK
            ]
        return found


def _state(path: Path) -> tuple[int, ...] | None:
    """Return what tells one content of a file from another without reading it."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ino


def in_blocks(samples: FloatArray) -> Iterator[tuple[int, FloatArray]]:
    """Yield first frame and samples (channels, frames) of blocks; an array is one block."""
    if isinstance(samples, FileSamples):
        yield from samples.blocks()
    else:
        yield 0, samples


def give_back(samples: FloatArray) -> None:
    """Hand memory that is free back to the system, after many parts of a large file were used.

    Small results between large passing arrays otherwise hold on to it (GNU's malloc alone).
    """
    if isinstance(samples, FileSamples) and sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)
