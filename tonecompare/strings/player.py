"""The person with the pick: the same pluck is never the same twice.

The default spread gives, per note on the standard instrument, about what real takes show from
pluck to pluck of one player (median SD on three CC0/MIT sets: level 0.5–0.7 dB, centroid 20–110
cents, T20 decay 3–7 %, pitch 0.3–0.6 cents); tests/strings holds the rendered spread to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.strings.model import PluckSpec


@dataclass(frozen=True)
class Spread:
    """Standard deviations from pluck to pluck (release and decay as fractions)."""

    level_db: float = 0.55
    position_mm: float = 3.0
    release: float = 0.25
    angle_deg: float = 5.0
    decay: float = 0.04
    pitch_cents: float = 0.45
    time_s: float = 0.03


#: A hand that takes care where it picks, and one that does not.
STEADY_HAND = Spread(level_db=0.7, position_mm=1.5)
LOOSE_HAND = Spread(level_db=0.7, position_mm=4.0)


def vary_plucks(
    plucks: Iterable[PluckSpec], *, rng: np.random.Generator, spread: Spread | None = None
) -> tuple[PluckSpec, ...]:
    """Return the plucks as a person would play them; draws from ``rng`` in a fixed order."""
    s = spread or Spread()
    varied = []
    for pluck in plucks:
        z = rng.standard_normal(7).clip(-3.0, 3.0)
        varied.append(
            replace(
                pluck,
                time_s=pluck.time_s + s.time_s * z[0],
                strength_db=pluck.strength_db + s.level_db * z[1],
                position_mm=max(pluck.position_mm + s.position_mm * z[2], 5.0),
                release_ms=pluck.release_ms * float(np.exp(s.release * z[3])),
                angle_deg=pluck.angle_deg + s.angle_deg * z[4],
                decay_factor=pluck.decay_factor * float(np.exp(s.decay * z[5])),
                detune_cents=pluck.detune_cents + s.pitch_cents * z[6],
            )
        )
    return tuple(varied)


def plucks_in_turn(
    notes: Sequence[tuple[int, int]],
    *,
    start_s: float = 3.0,
    spacing_s: float = 2.4,
    repeats: int = 1,
    damp_before_s: float | None = 0.25,
    like: PluckSpec | None = None,
) -> tuple[PluckSpec, ...]:
    """Plucks of (string, fret) notes one after the other, each note ``repeats`` times in a row.

    ``damp_before_s`` before the next pluck a hand damps the string; None lets all ring on. ``like``
    gives everything else (position, strength, …).
    """
    like = like or PluckSpec(0.0, 1)
    played = [note for note in notes for _ in range(repeats)]
    damp_s = None if damp_before_s is None else spacing_s - damp_before_s
    return tuple(
        replace(like, time_s=start_s + i * spacing_s, string=string, fret=fret, damp_s=damp_s)
        for i, (string, fret) in enumerate(played)
    )
