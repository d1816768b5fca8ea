"""How much sharper a note begins than it goes on: the harder the pluck, the more.

A string pulled aside is longer, so its tension and with it all its partials rise by
``df / f = c (A / L)²``, A the amplitude, and come down as A² dies (tension modulation: Legge &
Fletcher, J. Acoust. Soc. Am. 76 (1984) 5-12; Tolonen, Välimäki & Karjalainen, IEEE Trans. Speech
Audio Process. 8 (2000) 300-310; both from memory). It is the string's own: neither pickup nor
gain nor circuit touches it, so that its change between two takes of a note tells the hand from the
work.

Two polarisations beat and bend the phase of single partials, of each partial another way, while
the tension moves all of them by the same cents. So the glide is read of every partial alone and
the middle of them counts, each for what its phase wanders about a straight line.
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.units import ratio_to_cents

#: Windows whose mean pitch is compared, seconds from the onset.
EARLY_S = (0.05, 0.20)
LATE_S = (0.50, 1.00)
#: Partials that are followed; more bring noise.
N_FOLLOWED = 16
FEWEST_PARTIALS = 4
#: Values of a band that make a slope.
_FEWEST_VALUES = 5
#: How finely partials of one pluck agree at best, cents; and beyond how many of its own standard
#: deviations a partial counts less (Huber's estimator).
AGREE_CENTS = 0.3
_HUBER = 1.5
_STEPS = 10
METHOD = "phase of single partials, 0.05-0.2 s against 0.5-1 s"


def measure_glide(partials: PartialSet) -> dict[str, Measured]:
    """Return how far the pitch falls from the start of a note to its ringing on.

    ``1200 lg2(f_early / f_late)`` per partial, f the slope of its band's phase over time weighted
    by its power; Huber's mean over the partials and its standard error from their scatter.

    Returns
    -------
    dict
        ``glide_cents``, positive where the note begins sharp.
    """
    if partials.bands is None:
        return {"glide_cents": unmeasured("cents", partials.reason[0])}
    first, last = partials.bands.settled
    time_s = partials.bands.time_s[first:last]
    until = int(np.searchsorted(time_s, LATE_S[1]))
    if until < 1 or time_s[until - 1] < np.mean(LATE_S):
        return {"glide_cents": unmeasured("cents", "rang too short for the pitch to settle")}
    z = partials.clean[:N_FOLLOWED, :until]
    phase, power = np.unwrap(np.angle(z), axis=1), np.square(np.abs(z))
    early, late = (_slopes(phase, power, time_s[:until], window) for window in (EARLY_S, LATE_S))
    centre_hz = partials.bands.centre_hz[:N_FOLLOWED]
    ratio = (centre_hz + early[0]) / (centre_hz + late[0])
    known = np.isfinite(partials.frequency_hz[:N_FOLLOWED]) & np.isfinite(ratio) & (ratio > 0.0)
    if np.count_nonzero(known) < FEWEST_PARTIALS:
        return {"glide_cents": unmeasured("cents", "too few partials to follow")}
    sd = ratio_to_cents(1.0 + np.hypot(early[1], late[1])[known] / centre_hz[known])
    value, se = _middle(ratio_to_cents(ratio[known]), np.asarray(sd, dtype=np.float64))
    return {"glide_cents": Measured(value, "cents", se, (EARLY_S[0], LATE_S[1]), METHOD)}


def _slopes(
    phase: FloatArray, power: FloatArray, time_s: FloatArray, window_s: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Return the phase's slope and how far it wanders, both in Hz, shape (n,).

    Wandering is the RMS of what the line leaves over the RMS of the times about their mean: as one
    slow beat leaves as much in its slope, it is no standard error that falls with the length.
    """
    inside = slice(*np.searchsorted(time_s, window_s))
    if inside.stop - inside.start < _FEWEST_VALUES:
        nothing = np.full(phase.shape[0], np.nan)
        return nothing, nothing
    weight = np.maximum(power[:, inside], np.finfo(float).tiny)
    weight /= weight.sum(axis=1, keepdims=True)
    t = time_s[inside] - weight @ time_s[inside][:, np.newaxis]
    of = phase[:, inside]
    of = of - (weight * of).sum(axis=1, keepdims=True)
    pull = weight * t
    spread = np.einsum("nt,nt->n", pull, t)
    slope = np.einsum("nt,nt->n", pull, of) / spread
    of -= slope[:, np.newaxis] * t
    left = np.einsum("nt,nt,nt->n", weight, of, of)
    return slope / (2.0 * np.pi), np.sqrt(left / spread) / (2.0 * np.pi)


def _middle(cents: FloatArray, sd: FloatArray) -> tuple[float, float]:
    """Huber's mean over the partials and its standard error from their scatter about it."""
    own = np.hypot(sd, AGREE_CENTS)
    middle = float(np.median(cents))
    full, reach = own**-2.0, _HUBER * own
    weight = full
    for _ in range(_STEPS):
        far = np.abs(cents - middle)
        weight = full * np.minimum(1.0, reach / np.maximum(far, 1e-9))
        before, middle = middle, float(weight @ cents / weight.sum())
        if middle == before:
            break
    se = float(np.sqrt(np.sum(np.square(weight * (cents - middle)))) / weight.sum())
    return middle, se
