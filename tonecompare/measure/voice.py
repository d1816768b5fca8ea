"""What all plucks of one voice show together: picking points, pickup position, coil spacing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.language import tr_later
from tonecompare.measure.flags import OTHER_END, PLACES_UNSETTLED, Flag, unmeasured_flag, words
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.place.coil_spacing import find_spacing
from tonecompare.measure.place.early_cells import Rows
from tonecompare.measure.place.pick_and_pickup import (
    Positions,
    amplitudes_of,
    find_positions,
    no_positions,
)
from tonecompare.measure.table import MeasuredSubject
from tonecompare.session.note_names import note_number
from tonecompare.takes.plucks.chord_names import is_chord
from tonecompare.takes.plucks.passages import is_passage

#: Why voices of several magnetic pickups have no place of their own.
TOGETHER = tr_later("two pickups sound together")


@dataclass(frozen=True)
class VoicePluck:
    """One pluck of a voice: what was measured of it, its partials."""

    measured: MeasuredSubject
    partials: PartialSet


@dataclass(frozen=True)
class VoiceResult:
    """What all plucks of one output show together.

    ``plucks`` are theirs with ``pluck_point`` and ``strength_db``; ``quantities`` and ``flags``
    are the output's own, by the columns of ``voices.csv``; ``early`` are the first moments of a
    magnetic output's plucks, from which its resonance is read beside other voices.
    """

    plucks: tuple[MeasuredSubject, ...]
    quantities: Mapping[str, Measured]
    flags: tuple[Flag, ...]
    early: Rows = ()


def measure_voice(
    plucks: Sequence[VoicePluck],
    *,
    comb: bool,
    tuning: Sequence[str],
    scale_length_mm: float | None,
    pickup_distance_mm: float | None,
    together: bool = False,
) -> VoiceResult:
    """Measure what only all plucks of an output together show.

    Parameters
    ----------
    plucks
        All plucks of one voice and output.
    comb
        Whether the output has a comb of its own: a magnetic pickup has, a saddle piezo, a blend
        and a microphone have not.
    tuning
        Open strings, lowest first.
    scale_length_mm
        Of the instrument, if known: positions are then given in mm too.
    pickup_distance_mm
        Known distance of the pickup from the bridge; used only with the scale length.
    together
        Whether several magnetic pickups sound at once: no single comb fits their sum.

    Returns
    -------
    VoiceResult
    """
    names = [pluck.measured.subject for pluck in plucks]
    amplitudes = [
        amplitudes_of(pluck.partials, sounding=sounding_share(subject.note, subject.string, tuning))
        for pluck, subject in zip(plucks, names, strict=True)
    ]
    known = None
    if pickup_distance_mm is not None and scale_length_mm is not None:
        known = pickup_distance_mm / scale_length_mm
    if comb and together:
        positions = no_positions(amplitudes, TOGETHER)
    else:
        positions = find_positions(amplitudes, comb=comb, pickup_point=known)
    pickup = Measured(positions.pickup_point, "", positions.pickup_point_sd)
    quantities = {
        "n_plucks": Measured(len(plucks), ""),
        "n_notes": Measured(len({subject.note for subject in names} - {""}), ""),
        "pickup_point": pickup,
    }
    if scale_length_mm is not None:
        quantities["pickup_distance_mm"] = _in_mm(pickup, scale_length_mm)
    flags: list[Flag] = []
    if positions.pickup_point is None and comb:
        reason = positions.reason or tr_later("not determinable")
        flags.append(unmeasured_flag(reason, "pickup_point"))
    if positions.joint is not None and not positions.joint.converged:
        flags += words(PLACES_UNSETTLED)
    early: Rows = ()
    if comb:
        early = tuple(
            (pluck.sounding, pluck.early)
            for pluck in amplitudes
            if pluck.sounding is not None and pluck.early is not None
        )
        if scale_length_mm is not None:
            quantities["coil_spacing_mm"] = _in_mm(find_spacing(positions), scale_length_mm)
    return VoiceResult(
        picked([pluck.measured for pluck in plucks], positions), quantities, tuple(flags), early
    )


def _in_mm(share: Measured, scale_length_mm: float) -> Measured:
    """Return a share of the scale length in mm."""
    if share.value is None:
        return replace(share, unit="mm")
    sd = None if share.uncertainty is None else share.uncertainty * scale_length_mm
    return replace(share, value=share.value * scale_length_mm, unit="mm", uncertainty=sd)


def sounding_share(note: str, string: int | None, tuning: Sequence[str]) -> float | None:
    """Sounding length over scale length, 2^(-fret/12); None when string or note is unknown."""
    if not note or string is None or not 1 <= string <= len(tuning):
        return None
    fret = note_number(note) - note_number(tuning[len(tuning) - string])
    return float(2.0 ** (-fret / 12.0)) if 0 <= fret <= 30 else None


def picked(plucks: Sequence[MeasuredSubject], positions: Positions) -> tuple[MeasuredSubject, ...]:
    """Return the plucks with picking point and strength; flags say why where there is none."""
    return tuple(_picked(pluck, positions, index) for index, pluck in enumerate(plucks))


def _picked(pluck: MeasuredSubject, positions: Positions, index: int) -> MeasuredSubject:
    point, sd = float(positions.pluck_point[index]), float(positions.pluck_point_sd[index])
    gain = float(positions.gain_db[index])
    strength = Measured(gain if np.isfinite(gain) else None, "dB")
    if np.isfinite(point) and np.isfinite(sd):
        flags = (Flag(OTHER_END, (1.0 - point,)),) if positions.beyond[index] else ()
        found = Measured(point, "", sd)
    else:
        found = unmeasured("", positions.reason or _why_not(pluck, positions, index))
        flags = (unmeasured_flag(found.reason, "pluck_point"),)
    return pluck.joined({"strength_db": strength, "pluck_point": found}, flags)


def _why_not(pluck: MeasuredSubject, positions: Positions, index: int) -> str:
    if not pluck.subject.note:
        return tr_later("no pitch was found")
    if is_chord(pluck.subject.note):
        return tr_later("several strings sound together")
    if is_passage(pluck.subject.note):
        return tr_later("notes were played one after the other")
    if pluck.subject.string is None:
        return tr_later("the string is not known, so the sounding length is not either")
    likely, rival = positions.likely[index], positions.rival[index]
    if np.isfinite(likely) and np.isfinite(rival):
        low, high = sorted((float(likely), float(rival)))
        return tr_later(
            "not determinable between {low:.2f} and {high:.2f} of the length", low=low, high=high
        )
    return tr_later("the partials do not tell one place from another")
