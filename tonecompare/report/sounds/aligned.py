"""Plucks cut so that they begin together, and brought to one loudness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from scipy import signal

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.model import FileRecord
from tonecompare.report.sounds.cuts import LEAD_S, Cut, faded
from tonecompare.report.sounds.loudness import LKFS_DB, WINDOW_S, k_weighted_db, true_peak_db
from tonecompare.report.sounds.measured_file import by_name, read_as_measured
from tonecompare.takes.model import Audio

#: Fixed-window loudness of all sounds of one set, unless a true peak forbids it.
TARGET_LKFS = -20.0
#: True peaks stay below this.
MOST_DBTP = -1.0
_MARGIN_DB = 0.05
#: What is compared to find how one attack lies against another, and how far it may lie.
_BEFORE_S, _COMPARED_S, _FARTHEST_S = 0.005, 0.06, 0.002
#: Attacks less alike than this (correlation) stay aligned at their onsets.
_ALIKE = 0.8


@dataclass(frozen=True)
class AlignedSound:
    """One pluck, faded, from ``LEAD_S`` before its onset, as loud as recorded.

    ``shift_s`` is by how much its attack lay off its onset in the table against the first sound's;
    ``by_attack`` whether that was found from the attacks themselves.
    """

    cut: Cut
    samples: FloatArray
    rate_hz: float
    loudness_lkfs: float
    true_peak_dbtp: float
    shift_s: float
    by_attack: bool

    def at(self, loudness_lkfs: float) -> FloatArray:
        """Return the samples at another loudness."""
        gain = 10.0 ** ((loudness_lkfs - self.loudness_lkfs) / 20.0)
        return np.asarray(self.samples * gain)


@dataclass
class SoundReader:
    """Reads recordings of a session; the few read last are kept.

    ``files`` are the recordings as they were measured: one that was changed since is refused.
    """

    root: Path
    files: Sequence[FileRecord] = ()
    _kept: dict[str, Audio] = field(default_factory=dict)

    def channel(self, cut: Cut) -> tuple[FloatArray, float]:
        """Return the whole channel a cut stands in, and its rate."""
        if cut.file not in self._kept:
            while len(self._kept) > 3:
                self._kept.pop(next(iter(self._kept)))
            measured = by_name(self.files)
            self._kept[cut.file] = read_as_measured(self.root, cut.file, measured)
        audio = self._kept[cut.file]
        return audio.samples[cut.channel - 1], audio.rate_hz

    def aligned(self, cuts: Sequence[Cut]) -> tuple[AlignedSound, ...]:
        """Return plucks of one note that begin together and have one length in samples.

        Each is laid over the first where their first 60 ms are most alike (largest correlation of
        either sign, in whole samples, at most 2 ms and a quarter of a period from the onsets);
        attacks that are not alike keep their onsets.

        Raises
        ------
        RecordingError
            When a file cannot be read again, or was changed after it was measured.
        ValueError
            When the recordings have different sample rates.
        """
        sources = [self.channel(cut) for cut in cuts]
        rate_hz = sources[0][1]
        if any(rate != rate_hz for _, rate in sources):
            raise ValueError(tr_later("the two recordings have different sample rates"))
        starts = [round(cut.onset_s * rate_hz) for cut in cuts]
        first = _attack(sources[0][0], starts[0], rate_hz)
        sounds = []
        for cut, (samples, _), start in zip(cuts, sources, starts, strict=True):
            attack = _attack(samples, start, rate_hz)
            lag, alike = _lag(first, attack, cut.f0_hz, rate_hz)
            lead, length = round(LEAD_S * rate_hz), round(cut.length_s * rate_hz)
            piece = faded(_piece(samples, start + lag - lead, lead + length), rate_hz)
            window = min(WINDOW_S, cut.length_s)
            level = k_weighted_db(piece, rate_hz, start_s=LEAD_S, length_s=window)
            peak = true_peak_db(piece)
            shift = (lag / rate_hz, alike >= _ALIKE)
            sounds.append(AlignedSound(cut, piece, rate_hz, LKFS_DB + level, peak, *shift))
        return tuple(sounds)


def common_loudness(sounds: Sequence[AlignedSound]) -> float:
    """Return the loudness at which all can be played: the usual one unless a peak forbids it."""
    room = [
        MOST_DBTP - _MARGIN_DB - sound.true_peak_dbtp + sound.loudness_lkfs
        for sound in sounds
        if np.isfinite(sound.loudness_lkfs)
    ]
    return min(TARGET_LKFS, *room) if room else TARGET_LKFS


def _piece(samples: FloatArray, start: int, count: int) -> FloatArray:
    """Return samples, with silence where the file has none."""
    piece = np.zeros(count)
    first, last = max(start, 0), min(start + count, samples.size)
    if last > first:
        piece[first - start : last - start] = samples[first:last]
    return piece


def _attack(samples: FloatArray, start: int, rate_hz: float) -> FloatArray:
    before, count = round(_BEFORE_S * rate_hz), round((_BEFORE_S + _COMPARED_S) * rate_hz)
    return _piece(samples, start - before, count)


def _lag(first: FloatArray, other: FloatArray, f0_hz: float, rate_hz: float) -> tuple[int, float]:
    """Return by how many samples ``other`` lies later than ``first``, and how alike they are."""
    farthest = _FARTHEST_S if not f0_hz > 0 else min(_FARTHEST_S, 0.25 / f0_hz)
    reach = round(farthest * rate_hz)
    energy = float(np.sqrt(np.sum(first**2) * np.sum(other**2)))
    if energy <= 0 or reach < 1:
        return 0, 0.0
    found = signal.correlate(other, first, mode="same")[: other.size] / energy
    middle = other.size // 2
    near = np.abs(found[middle - reach : middle + reach + 1])
    best = int(np.argmax(near))
    alike = float(near[best])
    # A largest value at the edge is no maximum.
    inside = 0 < best < near.size - 1
    return (best - reach, alike) if alike >= _ALIKE and inside else (0, 0.0)
