"""Levels of a file: clipping, peaks between the samples, too quiet, an offset, digital silence."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.takes.file_faults import DC_OFFSET, DIGITAL_SILENCE_S

#: A loudest peak below this leaves the hiss of the converter within reach of the partials.
TOO_QUIET_DBFS = -36.0
#: A median signal to noise below this leaves no decay range (T20 needs 25 dB and some room).
TOO_NOISY_DB = 30.0


def level_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the faults of level of every file."""
    snr = checked.plucks.groupby("file")["snr_db"].median().to_dict()
    for file in checked.files:
        yield from _clipping(file)
        yield from _too_quiet(file, float(snr.get(file.file, np.nan)))
        yield from _offset(file)


def _clipping(file: Inspected) -> Iterator[Fault]:
    if file.clipped_s:
        hit = [
            p for p in file.plucks if any(p.onset_s - 0.001 <= t < p.end_s for t in file.clipped_s)
        ]
        # Data: level of the flat peaks in dBFS, when.
        yield fault_of(
            file,
            "clipping",
            "again",
            (_decibels(file.peak), tuple(file.clipped_s)),
            time_s=file.clipped_s[0],
            plucks=[p.number for p in hit],
        )
    elif file.peak_between > 1.0:
        # Data: by how many dB.
        yield fault_of(
            file,
            "inter-sample over",
            "note",
            (_decibels(file.peak_between),),
            time_s=file.peak_between_s,
        )


def _too_quiet(file: Inspected, snr_db: float) -> Iterator[Fault]:
    if not file.plucks:
        return
    # Data: the loudest sample in dBFS, or None and the median signal to noise in dB.
    peak_dbfs = _decibels(file.peak)
    if peak_dbfs < TOO_QUIET_DBFS:
        yield fault_of(file, "too quiet", "again", (peak_dbfs, None), time_s=file.peak_s)
    elif snr_db < TOO_NOISY_DB:
        yield fault_of(file, "too quiet", "again", (None, snr_db), time_s=file.peak_s)


def _offset(file: Inspected) -> Iterator[Fault]:
    if abs(file.offset) > DC_OFFSET:
        yield fault_of(file, "DC offset", "note", (100.0 * file.offset,))  # % of full scale
    if file.silence_s >= DIGITAL_SILENCE_S:
        yield fault_of(file, "digital silence", "again", (file.silence_s,))  # how long


def _decibels(ratio: float) -> float:
    """Return 20 lg of an amplitude, -inf for nothing."""
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf
