"""Dead spots: notes whose decay falls out of their neighbours' line.

Decay times of a guitar fall steadily with the note's number except where the neck takes energy from
the string (Fleischer & Zwicker, Acustica 84 (1998) 758–765). A straight line is drawn through the
logarithm of the decay times of a voice's *other* notes; a note is named when it falls below that
line by more than the scatter of the others explains (one-sided t test at 1 %) and by more than a
listener would let pass (a decay of less than 0.75 of the expected).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from tonecompare.arrays import FloatArray
from tonecompare.session.note_names import note_number

#: Fewer other notes than this draw no line.
LEAST_OTHERS = 5
ONE_SIDED = 0.01
#: Share of the expected decay below which a listener notices (Järveläinen & Tolonen 2001).
NOTICED_SHARE = 0.75


@dataclass(frozen=True)
class DeadSpot:
    """One note that rings shorter than its neighbours suggest."""

    stage: str
    voice: str
    output: str
    note: str
    string: int | None
    decay_s: float
    expected_s: float
    n_plucks: int
    n_others: int


def find_dead_spots(plucks: pd.DataFrame) -> list[DeadSpot]:
    """Find dead spots in every voice.

    Parameters
    ----------
    plucks
        Rows with the columns of ``measurements.csv``.

    Returns
    -------
    list of DeadSpot
        In the order of the table.
    """
    found: list[DeadSpot] = []
    if not {"decay_s", "note", "string"} <= set(plucks.columns):
        return found
    known = plucks[plucks["decay_s"].notna() & (plucks["note"] != "")]
    for key, of_voice in known.groupby(["stage", "voice", "output"], sort=False):
        stage, voice, output = (str(part) for part in key)
        found.extend(_of_voice(stage, voice, output, of_voice))
    return found


def _of_voice(stage: str, voice: str, output: str, rows: pd.DataFrame) -> list[DeadSpot]:
    log_decay = np.log(rows["decay_s"].to_numpy(dtype=float))
    strings = rows["string"].astype("Int64").fillna(0).to_numpy(dtype=int)
    keys = list(zip(rows["note"], strings, strict=True))
    notes = list(dict.fromkeys(keys))
    if len(notes) < LEAST_OTHERS + 1:
        return []
    index = np.array([notes.index(key) for key in keys])
    count = np.bincount(index)
    mean = np.bincount(index, weights=log_decay) / count
    number = np.array([float(note_number(note)) for note, _ in notes])
    found = []
    for i, (note, string) in enumerate(notes):
        others = np.arange(len(notes)) != i
        expected, sd, degrees = _line(number[others], mean[others], at=float(number[i]))
        p_value = float(stats.t.sf((expected - mean[i]) / sd, degrees))
        if p_value < ONE_SIDED and np.exp(mean[i] - expected) < NOTICED_SHARE:
            found.append(
                DeadSpot(
                    stage=stage,
                    voice=voice,
                    output=output,
                    note=str(note),
                    string=int(string) or None,
                    decay_s=float(np.exp(mean[i])),
                    expected_s=float(np.exp(expected)),
                    n_plucks=int(count[i]),
                    n_others=int(others.sum()),
                )
            )
    return found


def _line(x: FloatArray, y: FloatArray, *, at: float) -> tuple[float, float, int]:
    """Return the line's value at a point, its prediction's standard deviation and freedom.

    ``s sqrt(1 + 1/n + (x0 - mean)² / sum (x - mean)²)``, s from the residuals, at least 5 %
    (the spread of decay from take to take).
    """
    centred = x - x.mean()
    square = float(np.sum(centred**2))
    slope = float(np.sum(centred * y)) / square if square > 0.0 else 0.0
    left = y - y.mean() - slope * centred
    degrees = x.size - 2
    scatter = max(float(np.sqrt(np.sum(left**2) / degrees)), 0.05)
    lever = 1.0 + 1.0 / x.size + ((at - x.mean()) ** 2 / square if square > 0.0 else 0.0)
    return float(y.mean() + slope * (at - x.mean())), scatter * float(np.sqrt(lever)), degrees
