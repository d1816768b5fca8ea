"""Where a file came from: lossy codecs, low or unequal rates, broken copies, doubled files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.takes.file_faults import LOW_RATE_HZ
from tonecompare.takes.read import LOSSY_SUBTYPES

#: One performance under two names: gaps between onsets agree this closely (s), levels apart from
#: one gain (dB), centroids (ratio). A player repeats a gap within 10 ms at best.
_SAME_GAP_S = 5e-4
_SAME_LEVEL_DB = 0.05
_SAME_CENTROID = 0.003
_LEAST_PLUCKS = 3


def source_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the faults of where files came from."""
    for file in checked.files:
        yield from _codec(file)
        yield from _copy(file)
    yield from _rates(checked)
    yield from _doubles(checked)


def _codec(file: Inspected) -> Iterator[Fault]:
    if file.subtype in LOSSY_SUBTYPES:
        yield fault_of(file, "lossy codec", "again", ("coded", file.subtype))
    elif file.hard_cut_hz is not None:
        yield fault_of(file, "lossy codec", "again", ("edge", file.hard_cut_hz))
    elif file.hole_hz is not None:
        yield fault_of(file, "noise removal", "again", (file.hole_hz,))  # from where on
    if file.rate_hz < LOW_RATE_HZ:
        yield fault_of(file, "low sample rate", "again", (file.rate_hz,))


def _copy(file: Inspected) -> Iterator[Fault]:
    if "truncated" in file.flags:
        yield fault_of(file, "broken copy", "again", time_s=file.length_s)
    if "silent-channel" in file.flags:
        yield fault_of(file, "silent channel", "again")
    if "dual-mono" in file.flags:
        yield fault_of(file, "doubled channel", "note")


def _rates(checked: Checked) -> Iterator[Fault]:
    usual, others = _odd_ones({file.file: file.rate_hz for file in checked.files})
    for file in checked.files:
        if file.file in others:
            # Data: its rate, that of most files.
            yield fault_of(file, "sample rate differs", "doubt", (file.rate_hz, usual))


def _odd_ones(rates_hz: dict[str, float]) -> tuple[float, set[str]]:
    """Return the most frequent rate and the files that have another."""
    counts = Counter(rates_hz.values())
    if len(counts) < 2:
        return 0.0, set()
    usual = max(counts, key=lambda rate: (counts[rate], rate))
    return usual, {file for file, rate in rates_hz.items() if rate != usual}


def _doubles(checked: Checked) -> Iterator[Fault]:
    by_content: dict[str, list[Inspected]] = {}
    for file in checked.files:
        by_content.setdefault(file.samples_sha256, []).append(file)
    groups = [files for files in by_content.values() if len(files) > 1]
    paired = {(a.file, b.file) for files in groups for a in files for b in files}
    for files in groups:
        names = tuple(file.file for file in files)
        same = "bytes" if len({f.sha256 for f in files}) == 1 else "samples"
        for file in files:
            yield fault_of(file, "duplicate", "again", (same, names))
    signs = [(file, _signature(checked, file)) for file in checked.files]
    for i, (one, sign) in enumerate(signs):
        for other, another in signs[i + 1 :]:
            if (one.file, other.file) in paired or sign is None or another is None:
                continue
            gain_db = _one_performance(sign, another)
            if gain_db is not None:
                # Data: what is the same, the files, the gain between them in dB.
                data = ("performance", (one.file, other.file), gain_db)
                yield fault_of(one, "duplicate", "again", data)
                yield fault_of(other, "duplicate", "again", data)


def _signature(checked: Checked, file: Inspected) -> tuple[np.ndarray, np.ndarray] | None:
    """Return onsets (n,) and level and centroid (n, 2) of a file's plucks."""
    table = checked.plucks
    rows = table[(table["file"] == file.file) & (table["channel"] == 1)]
    values = rows[["level_dbfs", "centroid_hz"]].to_numpy(dtype=float)
    good = np.isfinite(values).all(axis=1)
    if len(rows) < _LEAST_PLUCKS or not good.all():
        return None
    return rows["onset_s"].to_numpy(dtype=float), values


def _one_performance(
    one: tuple[np.ndarray, np.ndarray], other: tuple[np.ndarray, np.ndarray]
) -> float | None:
    """Return the gain between two takes of one performance, None when they are two."""
    if len(one[0]) != len(other[0]):
        return None
    lag = other[0] - one[0]
    gain = other[1][:, 0] - one[1][:, 0]
    colour = np.log(other[1][:, 1] / one[1][:, 1])
    same = (
        np.ptp(lag) < _SAME_GAP_S
        and np.ptp(gain) < 2.0 * _SAME_LEVEL_DB
        and np.abs(colour).max() < _SAME_CENTROID
    )
    return float(np.median(gain)) if same else None
