"""Where in which file a note to listen to stands, and how it is cut without a click."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.takes.plucks.passages import is_passage

#: Before the onset, so that the attack is whole.
LEAD_S = 0.01
FADE_IN_S, FADE_OUT_S = 0.005, 0.12
#: No clip of a riff is longer.
LONGEST_RIFF_S = 20.0


@dataclass(frozen=True)
class Cut:
    """One pluck in its file; ``f0_hz`` is NaN for chords."""

    note: str
    file: str
    channel: int
    onset_s: float
    length_s: float
    pluck: int = 0
    f0_hz: float = float("nan")


def cut_of(row: pd.Series, length_s: float) -> Cut:
    """Return where a row of the plucks is cut; riffs where they go along with each other."""
    return Cut(
        str(row["note"]),
        str(row["file"]),
        int(row["channel"]),
        float(row["onset_s"]) + offset_of(row),
        length_s,
        int(row["pluck"]),
        float(row["f0_hz"]),
    )


def offset_of(row: pd.Series) -> float:
    """Return from where a riff is cut, seconds from its onset; 0 for all else."""
    offset_s = float(row.get("riff_offset_s", 0.0))
    return offset_s if np.isfinite(offset_s) else 0.0


def common_length_s(sides: Sequence[pd.DataFrame], longest_s: float) -> float:
    """Return the length that all rows of both sides ring from where they are cut.

    Riffs are kept whole, up to :data:`LONGEST_RIFF_S`.
    """
    rows = [row for side in sides for _, row in side.iterrows()]
    riff = all(is_passage(str(row["note"])) for row in rows)
    rings_s = (float(row["ring_s"]) - offset_of(row) for row in rows)
    return min(max(longest_s, LONGEST_RIFF_S) if riff else longest_s, *rings_s)


def by_note(
    plucks: pd.DataFrame, stage: str, voice: tuple[str, str], *, pitched: bool = True
) -> dict[str, pd.DataFrame]:
    """Return the plucks of a voice with a measured level by note, lowest note first, chords last.

    Without ``pitched`` chords count too, which have no pitch of their own.
    """
    if not len(plucks):
        return {}
    rows = plucks[
        (plucks["stage"] == stage)
        & (plucks["voice"] == voice[0])
        & (plucks["output"] == voice[1])
        & plucks["level_dbfs"].notna()
        & plucks["ring_s"].notna()
    ]
    if pitched:
        rows = rows[rows["f0_hz"].notna()]
    found = {str(note): group for note, group in rows.groupby("note", sort=False) if note}
    middles = {note: float(group["f0_hz"].median()) for note, group in found.items()}
    order = sorted(found, key=lambda note: (np.isnan(middles[note]), middles[note]))
    return {note: found[note] for note in order}


def from_the_middle(rows: pd.DataFrame) -> pd.DataFrame:
    """Return plucks by level, the middle one first (the softer of two), its neighbours next."""
    ordered = rows.sort_values("level_dbfs", kind="stable")
    middle = (len(ordered) - 1) // 2
    places = sorted(range(len(ordered)), key=lambda place: (abs(place - middle), place))
    return ordered.iloc[places]


def excerpt(samples: FloatArray, onset_s: float, length_s: float, rate_hz: float) -> FloatArray:
    """Cut one note from ``LEAD_S`` before its onset, with raised-cosine fades.

    Parameters
    ----------
    samples
        One channel, shape (n,).
    onset_s, length_s
        Onset in the file and length of the excerpt after it.
    rate_hz
        Rate of ``samples``.
    """
    start = max(round((onset_s - LEAD_S) * rate_hz), 0)
    stop = min(round((onset_s + length_s) * rate_hz), samples.size)
    return faded(samples[start:stop], rate_hz)


def faded(piece: FloatArray, rate_hz: float) -> FloatArray:
    """Return a copy that rises from nothing within 5 ms and ends in nothing within 120 ms."""
    piece = piece.copy()
    fade_in = min(round(FADE_IN_S * rate_hz), piece.size // 2)
    fade_out = min(round(FADE_OUT_S * rate_hz), piece.size // 2)
    piece[:fade_in] *= _rise(fade_in)
    piece[piece.size - fade_out :] *= _rise(fade_out)[::-1]
    return piece


def _rise(n: int) -> FloatArray:
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.arange(n) / max(n, 1)))
