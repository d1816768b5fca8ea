"""Gain or pad: if the hiss moved by as much as the level did, the gain moved, not the pickup.

The gain of a stage is one number for all that goes through one input. It is estimated from the
hiss, level and hum of all voices together (``gain_posterior``) and taken out of everything it
moves, so that a pickup made hotter and turned down again at the interface is told as what it is.
Hiss of a piezo or a blend may be its preamp's, which the work can change: such a voice gives no
evidence by its hiss.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from tonecompare.compare.cause_facts import GainFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.gain.gain_posterior import (
    HISS,
    HUM,
    LEVEL,
    Evidence,
    GainPosterior,
    gain_posterior,
)
from tonecompare.compare.causes.rows_to_explain import VoiceRows, by_comparison
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import t_quantile
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_GAIN
from tonecompare.session.model import Session

KIND = "gain"
#: A gain is named when it moved with this probability, and left open above the other.
SURE, OPEN = 0.99, 0.3
#: Half of a 95 % interval of a normal distribution in standard deviations.
_HALF = 1.96


def find_gain(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Estimate the gain of every comparison and give what it moved without it.

    A second channel of a two-channel recording has a gain of its own; all else shares one.
    """
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for name, of in by_comparison(differences).items():
        inputs: dict[str, list[VoiceRows]] = {}
        for rows in of:
            own = rows.several and rows.output != "magnetic"
            inputs.setdefault(rows.output if own else "", []).append(rows)
        for output, voices in inputs.items():
            one, taken = _of_input(session, name, output, voices)
            confounds += one
            adjustments += taken
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _of_input(
    session: Session, name: str, output: str, voices: Sequence[VoiceRows]
) -> tuple[list[Confound], list[Adjustment]]:
    hiss = [rows for rows in voices if _from_strings(rows) and _known(rows, "hiss_dbfs")]
    stated_db = _stated_db(session, voices[0]) if not output else None
    played = any(_known(rows, "level_dbfs") for rows in voices)
    if not played or (not hiss and stated_db is None):
        return [], []
    found = gain_posterior(list(_evidence(voices, hiss)), stated_db=stated_db)
    controlled = any(
        bool(np.isfinite(r.table.control_difference[r.over_notes["hiss_dbfs"]])) for r in hiss
    )
    against = stated_db is not None and abs(found.gain_db - stated_db) > 1.0
    sure = found.moved >= SURE and found.in_one_place >= SURE
    open_ = not sure and found.moved > OPEN
    facts = GainFacts(
        controlled=controlled,
        stated_db=stated_db,
        against_stated=against,
        sure=sure,
        voices=len(hiss),
    )
    confound = Confound(
        name, "", KIND, sure or open_, *_ends(found, told=sure or open_), None,
        BY_GAIN if open_ else (), facts, output,
    )  # fmt: skip
    if not sure:
        return [confound], []
    return [confound], [one for rows in voices for one in _without(rows, found)]


def _ends(
    found: GainPosterior, *, told: bool
) -> tuple[float | None, str, float | None, float | None]:
    if not told:
        return None, "dB", None, None
    half = _HALF * found.sd_db
    return found.gain_db, "dB", found.gain_db - half, found.gain_db + half


def _from_strings(rows: VoiceRows) -> bool:
    """Whether nothing in the instrument but a coil makes hiss."""
    return rows.output == "magnetic"


def _known(rows: VoiceRows, column: str) -> bool:
    return bool(np.isfinite(rows.difference(column)))


def _evidence(voices: Sequence[VoiceRows], hiss: Sequence[VoiceRows]) -> Iterator[Evidence]:
    for rows in hiss:
        yield HISS, rows.difference("hiss_dbfs"), rows.se("hiss_dbfs")
    for rows in voices:
        yield LEVEL, rows.difference("level_dbfs"), rows.se("level_dbfs")
        yield HUM, rows.difference("hum_dbfs"), rows.se("hum_dbfs")


def _stated_db(session: Session, rows: VoiceRows) -> float | None:
    """Return by how much session.toml turns the gain, None where it does not say for both."""
    if bool(np.isfinite(rows.table.control_difference[rows.places]).any()):
        return None
    stated = []
    for stage in (rows.before, rows.after):
        conditions = session.conditions_of(stage)
        if conditions is None or conditions.interface_gain_db is None:
            return None
        stated.append(conditions.interface_gain_db)
    return stated[1] - stated[0]


def _without(rows: VoiceRows, gain: GainPosterior) -> Iterator[Adjustment]:
    """Yield everything of a voice that a gain moves without it: ``x - g``, variances added."""
    table = rows.table
    for row in rows.places[np.isin(table.column[rows.places], BY_GAIN)].tolist():
        value = float(table.difference[row]) - gain.gain_db
        if not np.isfinite(value):
            continue
        own = float(t_quantile(0.975, table.df[row])) * float(table.se[row])
        half = float(np.hypot(own, _HALF * gain.sd_db))
        yield Adjustment(row, value, value - half, value + half, KIND)
