"""Open strings that ring along loudly enough to bend decay times, as bench signs.

A string at −25 dB of the note is as loud as the note itself once that has fallen by 25 dB, where
the decay time (T20's range, −5 to −25 dB; ISO 3382-1) stops being read: from there on it decides
what is read, and it rings longer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

#: Louder than this re the note it bends the decay time.
LOUD_DB = -25.0


@dataclass(frozen=True)
class LoudString:
    """One string of a voice and output that rings along loudly: with which notes, how loud."""

    stage: str
    voice: str
    output: str
    string: int
    notes: tuple[str, ...]
    level_db: float
    level_sd_db: float | None
    n_plucks: int
    #: The other output of the same jack that hears it as well, "" when there is none.
    also: str = ""


def loud_strings(plucks: pd.DataFrame) -> Iterator[LoudString]:
    """Yield the strings that ring along louder than −25 dB on at least half of a note's plucks.

    Parameters
    ----------
    plucks
        Rows with the columns of ``measurements.csv``.
    """
    if not {"ring_along_db", "ring_along_string"} <= set(plucks.columns):
        return
    known = plucks[plucks["note"] != ""]
    loud = known[known["ring_along_db"].fillna(-1e3) > LOUD_DB]
    keys = ["stage", "voice", "output", "note"]
    of_note = known.groupby(keys, sort=False).size()
    count = loud.groupby([*keys, "ring_along_string"], sort=False).size()
    often = {key for key, n in count.items() if 2 * n >= of_note[key[:4]]}  # type: ignore[index]
    named_often = [tuple(row) in often for row in loud[[*keys, "ring_along_string"]].to_numpy()]
    rows = loud[np.array(named_often, dtype=bool)]
    named = known[known["ring_along_string"].notna()]
    heard = set(named[["file", "pluck", "ring_along_string", "output"]].itertuples(index=False))
    by = ["stage", "voice", "output", "ring_along_string"]
    for key, group in rows.groupby(by, sort=False):
        stage, voice, output, string = (str(part) for part in key)
        other = {"magnetic": "piezo", "piezo": "magnetic"}.get(output, "")
        here = group[["file", "pluck", "ring_along_string"]].itertuples(index=False)
        both = all((*row, other) in heard for row in here)
        spread = group["ring_along_db_se"].median() if "ring_along_db_se" in group else None
        yield LoudString(
            stage,
            voice,
            output,
            int(string),
            tuple(dict.fromkeys(group["note"])),
            float(group["ring_along_db"].median()),
            float(spread) if spread is not None and spread == spread else None,
            len(group),
            other if both else "",
        )
