"""What all plucks of one voice show together: picking points, pickup position, coil resonance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tonecompare.measure.flags import (
    OTHER_END,
    PLACES_UNSETTLED,
    Flag,
    unmeasured_flag,
    words,
)
from tonecompare.measure.model import Noise
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.place.pick_and_pickup import Positions, amplitudes_of, find_positions
from tonecompare.measure.place.resonance import Resonance, find_resonance
from tonecompare.measure.ringing.narrow_lines import RingFrame
from tonecompare.session.note_names import note_number

Row = dict[str, Any]

#: Columns of ``voices.csv``: a row per stage, voice and output.
VOICE_COLUMNS = (
    "stage", "voice", "output", "n_plucks", "n_notes", "pickup_point", "pickup_point_se",
    "pickup_distance_mm", "pickup_distance_mm_se", "resonance_hz", "resonance_hz_se",
    "resonance_q", "resonance_q_se", "flags", "coil_spacing_mm", "coil_spacing_mm_se",
)  # fmt: skip


@dataclass(frozen=True)
class VoicePluck:
    """One pluck of a voice: its table row, its partials, its string (1 = thinnest) if known."""

    row: Row
    partials: PartialSet
    #: Its second from 0.3 s on, and what the channel carries with the strings damped.
    frame: RingFrame | None = None
    noise: Noise | None = None


def measure_voice(
    plucks: Sequence[VoicePluck],
    *,
    comb: bool,
    tuning: Sequence[str],
    scale_length_mm: float | None,
    pickup_distance_mm: float | None,
) -> Row:
    """Fill ``pluck_point`` and ``strength_db`` into the rows and return the voice's own row.

    Parameters
    ----------
    plucks
        All plucks of one voice and output; their rows are completed in place.
    comb
        Whether the output has a comb of its own: a magnetic pickup has, a saddle piezo, a blend
        and a microphone have not.
    tuning
        Open strings, lowest first.
    scale_length_mm
        Of the instrument, if known: positions are then given in mm too.
    pickup_distance_mm
        Known distance of the pickup from the bridge; used only with the scale length.

    Returns
    -------
    dict
        The columns of ``voices.csv`` after stage, voice and output.
    """
    amplitudes = [
        amplitudes_of(
            pluck.partials,
            sounding=sounding_share(str(pluck.row["note"]), pluck.row.get("string"), tuning),
        )
        for pluck in plucks
    ]
    known = None
    if pickup_distance_mm is not None and scale_length_mm is not None:
        known = pickup_distance_mm / scale_length_mm
    positions = find_positions(amplitudes, comb=comb, pickup_point=known)
    _fill(plucks, positions)
    row: Row = {
        "n_plucks": len(plucks),
        "n_notes": len({str(pluck.row["note"]) for pluck in plucks} - {""}),
        "pickup_point": positions.pickup_point,
        "pickup_point_se": positions.pickup_point_sd,
    }
    if positions.pickup_point is not None and scale_length_mm is not None:
        row["pickup_distance_mm"] = positions.pickup_point * scale_length_mm
        if positions.pickup_point_sd is not None:
            row["pickup_distance_mm_se"] = positions.pickup_point_sd * scale_length_mm
    flags: list[Flag] = []
    if positions.pickup_point is None and comb:
        flags.append(unmeasured_flag(positions.reason or "not determinable", "pickup_point"))
    if positions.joint is not None and not positions.joint.converged:
        flags += words(PLACES_UNSETTLED)
    if comb:
        flags += _fill_resonance(row, find_resonance(positions), scale_length_mm)
    row["flags"] = tuple(flags)
    return row


def sounding_share(note: str, string: object, tuning: Sequence[str]) -> float | None:
    """Sounding length over scale length, 2^(-fret/12); None when string or note is unknown."""
    if not note or not isinstance(string, int) or not 1 <= string <= len(tuning):
        return None
    fret = note_number(note) - note_number(tuning[len(tuning) - string])
    return float(2.0 ** (-fret / 12.0)) if 0 <= fret <= 30 else None


def _fill_resonance(row: Row, found: Resonance, scale_length_mm: float | None) -> list[Flag]:
    """Write resonance, Q and coil spacing into the voice's row; return what flags say."""
    row["resonance_hz"] = found.frequency_hz.value
    row["resonance_hz_se"] = found.frequency_hz.uncertainty
    row["resonance_q"], row["resonance_q_se"] = found.q.value, found.q.uncertainty
    if scale_length_mm is not None and found.spacing.value is not None:
        row["coil_spacing_mm"] = found.spacing.value * scale_length_mm
        row["coil_spacing_mm_se"] = (found.spacing.uncertainty or 0.0) * scale_length_mm
    reason = found.frequency_hz.reason or found.q.reason
    return [unmeasured_flag(reason, "resonance")] if reason else []


def _fill(plucks: Sequence[VoicePluck], positions: Positions) -> None:
    """Write picking point and strength into the rows; flags say why where there is none."""
    for index, pluck in enumerate(plucks):
        point, sd = positions.pluck_point[index], positions.pluck_point_sd[index]
        gain = positions.gain_db[index]
        pluck.row["strength_db"] = float(gain) if np.isfinite(gain) else None
        pluck.row["pluck_point"] = pluck.row["pluck_point_se"] = None
        if np.isfinite(point) and np.isfinite(sd):
            pluck.row["pluck_point"], pluck.row["pluck_point_se"] = float(point), float(sd)
            if positions.beyond[index]:
                _flag(pluck, Flag(OTHER_END, (1.0 - float(point),)))
            continue
        reason = positions.reason or _why_not(pluck, positions, index)
        _flag(pluck, unmeasured_flag(reason, "pluck_point"))


def _flag(pluck: VoicePluck, flag: Flag) -> None:
    pluck.row["flags"] = (*pluck.row["flags"], flag)


def _why_not(pluck: VoicePluck, positions: Positions, index: int) -> str:
    if not pluck.row["note"]:
        return "no pitch was found"
    if not isinstance(pluck.row.get("string"), int):
        return "the string is not known, so the sounding length is not either"
    likely, rival = positions.likely[index], positions.rival[index]
    if np.isfinite(likely) and np.isfinite(rival):
        low, high = sorted((float(likely), float(rival)))
        return f"not determinable between {low:.2f} and {high:.2f} of the length"
    return "the partials do not tell one place from another"
