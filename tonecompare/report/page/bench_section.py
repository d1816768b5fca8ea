"""What single stages show at the bench: signs worth a look, pickup positions, resonances."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tonecompare.compare.model import BenchSign
from tonecompare.language import tr, tr_later
from tonecompare.report.words.bench_words import sign_sentence
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import decimals_for, is_number, number, with_unit

_KINDS = {
    "dead-spot": tr_later("Dead spot"),
    "string-balance": tr_later("String balance"),
    "hands": tr_later("Hands on the strings"),
    "coil-mismatch": tr_later("Coil mismatch"),
    "interference": tr_later("Interference"),
    "outputs": tr_later("Outputs exchanged"),
    "piezo": tr_later("Piezo"),
}


@dataclass(frozen=True)
class SignView:
    """One bench sign."""

    stage: str
    voice: str
    kind: str
    sentence: str


@dataclass(frozen=True)
class PickupView:
    """One voice of one stage: what all its plucks show together; ``notes`` says how many."""

    stage: str
    voice: str
    distance: str
    resonance: str
    q: str
    basis: str


def sign_views(signs: Iterable[BenchSign]) -> tuple[SignView, ...]:
    """Return the bench signs for the page."""
    return tuple(
        SignView(
            sign.stage,
            voice_title(sign.voice),
            tr(_KINDS.get(sign.kind, sign.kind)),
            sign_sentence(sign),
        )
        for sign in signs
    )


def pickup_views(voices: pd.DataFrame) -> tuple[PickupView, ...]:
    """Return a row per stage and magnetic voice whose pickup or resonance could be determined."""
    views = []
    for record in voices.to_dict("records"):
        row = {str(key): value for key, value in record.items()}
        distance = _measured(row, "pickup_distance_mm", "mm")
        if not distance:
            distance = _measured(row, "pickup_point", "share", after=" " + tr("of the string"))
        resonance = _measured(row, "resonance_hz", "Hz")
        if not distance and not resonance:
            continue
        views.append(
            PickupView(
                str(row["stage"]),
                voice_title(str(row["voice"])),
                distance or tr("not determinable"),
                resonance or tr("not determinable"),
                _measured(row, "resonance_q", "") or "–",
                tr(
                    "{plucks} plucks, {notes} notes",
                    plucks=int(row["n_plucks"]),
                    notes=int(row["n_notes"]),
                ),
            )
        )
    return tuple(views)


def _measured(row: dict[str, Any], column: str, unit: str, *, after: str = "") -> str:
    """Write a value with its standard uncertainty, empty when it was not determined."""
    value, spread = row.get(column), row.get(f"{column}_se")
    if not is_number(value):
        return ""
    if not is_number(spread) or not spread > 0:
        return with_unit(float(value), unit) + after
    shown = with_unit(float(value), unit, uncertainty=float(spread))
    kilo = shown.endswith("kHz")
    plain_unit = "kHz" if kilo else unit
    size = float(spread) / (1000.0 if kilo else 1.0)
    decimals = decimals_for(size, plain_unit)
    error = number(max(size, 10.0**-decimals), decimals)  # "± 0.0" would claim to be exact
    head, space, tail = shown.rpartition(" ")
    if space and unit not in ("", "share"):
        return f"{head} ± {error} {tail}{after}"
    return f"{shown} ± {error}{after}"
