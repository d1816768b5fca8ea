"""A plucked stiff string by finite differences: physics that shares nothing with ``strings``.

Scheme
    u_tt = (c² + c_T²) u_xx − κ² u_xxxx − 2σ0 u_t + 2σ1 u_txx, explicit, simply supported ends
    (Bilbao, Numerical Sound Synthesis, Wiley 2009, chapter 7), with c_T² the Kirchhoff–Carrier
    stretching EA/(2μL)·∫(u_x² + w_x²) dx of both polarisations (chapter 8). Grid spacing stands
    half a per cent above the stability limit. Its own frequencies follow from its dispersion
    relation (:func:`scheme_hz`), which is the truth of what it plays.
Pick
    A node is held aside along a ramp and let go; while it is held it is pulled towards the pick by
    a share ``_GRIP`` of the way each step. Before the release the pick scrapes: its place jitters.
Hand
    Damping rises by ``damp_per_s`` at the end; a touch resists a node's motion for a while.

Many plucks of one string are stepped at once. Everything follows from the arguments and the seed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_GRIP = 0.5
#: From the first touch of the pick to its release; how long it scrapes; how long it lets go.
RAMP_S, _SCRAPE_S, _LETS_GO_S = 0.04, 0.006, 0.0002
#: Jitter of the pick while it scrapes, as a share of the pull.
_JITTER = 0.004
#: A finger that touches a string at the end of a note: how long; how fast and how far it moves it.
_TOUCH_S, _LANDS_S, _LANDS_M = 0.1, 0.002, 0.05e-3
#: The tension is worked out anew every so many steps; the string is sensed in chunks.
_TENSION_EVERY, _CHUNK = 4, 512


@dataclass(frozen=True)
class FdString:
    """One string in SI units; pairs are (first, second) polarisation.

    ``stretch`` is EA/T; σ0 and σ1 are the loss terms of the scheme.
    """

    length_m: float
    open_hz: float
    inharmonicity: float
    sigma0_per_s: tuple[float, float]
    sigma1_m2_per_s: tuple[float, float]
    split: float = 4e-4
    stretch: float = 300.0


@dataclass(frozen=True)
class FdPluck:
    """One pluck: where, how far aside, at which angle; a touch (time, place) at its end.

    ``decay_factor`` multiplies every decay time.
    """

    position_m: float
    pull_m: float
    angle_rad: float
    touch_s: float | None = None
    touch_m: float = 0.3
    decay_factor: float = 1.0


def grid(string: FdString, rate_hz: float) -> tuple[int, float, float, float]:
    """Segments, spacing h, c² and the scheme's κ² of a string at a rate.

    f_n = n f √(1 + B n²) with B = κ²π²/(c²L²). To κ² comes c²h²(1 − λ²)/12, λ = ck/h, which takes
    the scheme's own dispersion off to fourth order (modified equation).
    """
    c2 = (2.0 * string.length_m * string.open_hz) ** 2
    own = string.inharmonicity * c2 * (string.length_m / np.pi) ** 2
    k = 1.0 / rate_hz
    a = c2 * k**2 + 4.0 * max(string.sigma1_m2_per_s) * k
    kappa2 = own
    for _ in range(20):
        smallest = np.sqrt(0.5 * (a + np.sqrt(a**2 + 16.0 * kappa2 * k**2)))
        segments = int(string.length_m / (1.005 * smallest))
        h = string.length_m / segments
        kappa2 = own + c2 * h**2 * (1.0 - c2 * k**2 / h**2) / 12.0
    return segments, h, c2, kappa2


def scheme_hz(string: FdString, rate_hz: float, n: NDArray[np.int64]) -> Floats:
    """Frequencies of modes n in the scheme itself.

    sin²(ωk/2) = k²(c² S/h² + 4κ² S²/h⁴) with S = sin²(nπh/2L).
    """
    _, h, c2, kappa2 = grid(string, rate_hz)
    s = np.sin(n * np.pi * h / (2.0 * string.length_m)) ** 2
    k = 1.0 / rate_hz
    square = k**2 * (c2 * s / h**2 + 4.0 * kappa2 * s**2 / h**4)
    return np.asarray(np.arcsin(np.sqrt(square)) * rate_hz / np.pi)


def simulate(
    string: FdString,
    plucks: Sequence[FdPluck],
    points: Sequence[tuple[float, float]],
    *,
    n: int,
    damp_s: float,
    damp_per_s: float = 90.0,
    rate_hz: float = 44100.0,
    seed: Sequence[int] = (0,),
) -> tuple[Floats, int]:
    """Step plucks of one string and sense it at points.

    Parameters
    ----------
    string, plucks
        What is played.
    points
        (distance from the bridge, aperture) in metres of every place that is sensed.
    n
        Steps, the ramp before the release included.
    damp_s
        From the release to the hand's damping.
    seed
        Of the scrapes.

    Returns
    -------
    displacement
        Metres, shape (plucks, polarisations, points, n).
    release
        Step at which the picks let go.
    """
    segments, h, c2, kappa2 = grid(string, rate_hz)
    k = 1.0 / rate_hz
    rng = np.random.default_rng(list(seed))
    count = len(plucks)
    release = round(RAMP_S * rate_hz)
    path, grip = _pick_path(plucks, release, rate_hz, rng)
    nodes = _nodes([pluck.position_m for pluck in plucks], h, segments)
    touched = _touches(plucks, release, rate_hz)
    touch_nodes = _nodes([pluck.touch_m for pluck in plucks], h, segments)
    weights = _apertures(points, h, segments)

    # Rows are (pluck, polarisation); nodes are the string with one ghost node beyond each end.
    u, before, after = (np.zeros((2 * count, segments + 3)) for _ in range(3))
    near, near_before, part = (np.zeros((2 * count, segments - 1)) for _ in range(3))
    own = slice(2, -2)
    slower = np.repeat([pluck.decay_factor for pluck in plucks], 2)
    terms = _Terms(string, slower, k, h, c2, kappa2)
    out = np.empty((n, 2 * count, len(points)))
    kept = np.empty((_CHUNK, 2 * count, segments + 1))
    damp_at = release + round(damp_s * rate_hz)
    first, second = 2 * np.arange(count), 2 * np.arange(count) + 1
    for step in range(n):
        if step % _TENSION_EVERY == 0 or step == damp_at:
            slope = np.diff(u[:, 1:-1])
            energy = np.einsum("rn,rn->r", slope, slope)
            energy = np.repeat(energy[first] + energy[second], 2)
            extra_per_s = damp_per_s if step >= damp_at else 0.0
            of_u, of_near, of_far, of_before, of_near_before = terms.at(energy, extra_per_s)
        new = after[:, own]
        np.add(u[:, 3:-1], u[:, 1:-3], out=near)
        np.multiply(of_u, u[:, own], out=new)
        np.multiply(of_near, near, out=part)
        new += part
        np.add(u[:, 4:], u[:, :-4], out=part)
        part *= of_far
        new += part
        np.multiply(of_before, before[:, own], out=part)
        new += part
        np.multiply(of_near_before, near_before, out=part)
        new += part
        if step < grip.size:
            for rows, course in ((first, path[:, 0, step]), (second, path[:, 1, step])):
                free = after[rows, nodes]
                after[rows, nodes] = free + grip[step] * (course - free)
        for row, start, stop in touched:
            if start <= step < stop:
                both, node = slice(2 * row, 2 * row + 2), touch_nodes[row]
                # A finger lands, which moves the string aside, and then resists its motion.
                phase = min((step - start) / (rate_hz * _LANDS_S), 1.0)
                speed = _LANDS_M / (rate_hz * _LANDS_S) * 0.5 * np.pi * np.sin(np.pi * phase)
                after[both, node] -= _GRIP * (after[both, node] - u[both, node] - speed)
        # Simply supported: u = 0 and no curvature at the ends.
        after[:, 0] = -after[:, 2]
        after[:, -1] = -after[:, -3]
        before, u, after = u, after, before
        near, near_before = near_before, near
        kept[step % _CHUNK] = u[:, 1:-1]
        if step % _CHUNK == _CHUNK - 1 or step == n - 1:
            size = step % _CHUNK + 1
            out[step + 1 - size : step + 1] = kept[:size] @ weights
    return np.ascontiguousarray(np.moveaxis(out, 0, -1)).reshape(count, 2, len(points), n), release


class _Terms:
    """Coefficients of the scheme, solved for the new step, shape (rows, 1) each."""

    def __init__(
        self, string: FdString, slower: Floats, k: float, h: float, c2: float, kappa2: float
    ) -> None:
        pairs = slower.size // 2
        self.wave = np.tile(c2 * k**2 / h**2 * np.array([1.0, (1.0 + string.split) ** 2]), pairs)
        self.stiff = kappa2 * k**2 / h**4
        self.loss = np.tile(2.0 * np.array(string.sigma1_m2_per_s) * k / h**2, pairs) / slower
        # c_T²/c² = EA/T · ∫(u_x² + w_x²) dx/(2L), slopes over h.
        self.stretching = string.stretch * c2 / (2.0 * string.length_m * h) * k**2 / h**2
        self.sigma0 = np.tile(np.array(string.sigma0_per_s), pairs) / slower
        self.k = k

    def at(self, energy: Floats, extra_per_s: float) -> tuple[Floats, ...]:
        """Coefficients for Σ of squared differences ``energy`` (rows,) and a hand's damping."""
        tight = self.wave + self.stretching * energy
        damping = self.k * (self.sigma0 + extra_per_s)
        parts = (
            2.0 - 2.0 * tight - 2.0 * self.loss - 6.0 * self.stiff,
            tight + self.loss + 4.0 * self.stiff,
            np.full_like(tight, -self.stiff),
            2.0 * self.loss - 1.0 + damping,
            -self.loss,
        )
        return tuple((part / (1.0 + damping))[:, None] for part in parts)


def _pick_path(
    plucks: Sequence[FdPluck], release: int, rate_hz: float, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Where each pick holds its node, (plucks, polarisations, steps), and how firmly."""
    lets_go = max(round(_LETS_GO_S * rate_hz), 1)
    t = np.arange(release + lets_go)
    ramp = np.sin(0.5 * np.pi * np.clip(t / (release - round(0.005 * rate_hz)), 0.0, 1.0)) ** 2
    scraping = np.clip((t - release) / (_SCRAPE_S * rate_hz) + 1.0, 0.0, 1.0)
    pull = np.array([pluck.pull_m for pluck in plucks])[:, None]
    place = pull * (ramp + _JITTER * scraping * rng.standard_normal((len(plucks), t.size)))
    angle = np.array([pluck.angle_rad for pluck in plucks])
    path = np.stack((np.cos(angle)[:, None] * place, np.sin(angle)[:, None] * place), axis=1)
    grip = _GRIP * np.clip((release + lets_go - t) / lets_go, 0.0, 1.0)
    return path, grip


def _touches(plucks: Sequence[FdPluck], release: int, rate_hz: float) -> list[tuple[int, int, int]]:
    """(row, first step, step after the last) of every touch."""
    starts = [
        (row, release + round(pluck.touch_s * rate_hz))
        for row, pluck in enumerate(plucks)
        if pluck.touch_s is not None
    ]
    return [(row, start, start + round(_TOUCH_S * rate_hz)) for row, start in starts]


def _nodes(places_m: Sequence[float], h: float, segments: int) -> NDArray[np.int64]:
    """Index of the nearest inner node, counted in the array with its ghost node."""
    return np.clip(np.round(np.array(places_m) / h).astype(np.int64), 1, segments - 1) + 1


def _apertures(points: Sequence[tuple[float, float]], h: float, segments: int) -> Floats:
    """Weights (nodes, points) that average the linearly interpolated string over each aperture."""
    fine = np.linspace(-0.5, 0.5, 33)
    weights = np.zeros((segments + 1, len(points)))
    for column, (distance, aperture) in enumerate(points):
        at = (distance + aperture * fine) / h
        low = np.clip(np.floor(at).astype(int), 0, segments - 1)
        np.add.at(weights[:, column], low, (1.0 - (at - low)) / fine.size)
        np.add.at(weights[:, column], low + 1, (at - low) / fine.size)
    return weights
