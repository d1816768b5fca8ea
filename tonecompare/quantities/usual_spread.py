"""How far levels scatter from pluck to pluck of one hand, as real takes show it."""

from __future__ import annotations

#: Partial number up to which, and spread in dB: medians of 22 sets of 4 real plucks of one note and
#: dynamic (three guitars, Hann window over 0.05-0.55 s, partials above -45 dB).
_PARTIAL_SPREAD_DB = ((3, 0.4), (4, 1.0), (5, 1.3), (8, 1.6), (10, 1.9), (24, 2.5))

#: Spread of the octave bands from pluck to pluck in dB, alone and against the whole, lowest first:
#: medians of 22 sets of 4 real plucks of one note and dynamic (three guitars).
_BAND_SPREAD_DB = (0.5, 0.5, 0.8, 1.2, 1.1, 1.0, 1.6, 2.0)
_SHAPE_SPREAD_DB = (0.4, 0.4, 0.4, 0.5, 1.1, 1.1, 1.2, 2.2)


def band_spread_db(n: int) -> float:
    """Return how far the level of octave band n scatters from pluck to pluck."""
    return _BAND_SPREAD_DB[n - 1]


def shape_spread_db(n: int) -> float:
    """Return how far octave band n against the whole scatters from pluck to pluck."""
    return _SHAPE_SPREAD_DB[n - 1]


def partial_spread_db(n: int) -> float:
    """Return how far the level of partial n scatters from pluck to pluck."""
    return next(sd for last, sd in _PARTIAL_SPREAD_DB if n <= last)
