"""Where the string was picked and where the pickup sits, from the comb of the partials.

A string plucked at the share p of its sounding length, its velocity sensed at the share delta,
has partials of amplitude

    a_n = g |sin(n pi p)| |sin(n pi delta)| H(f_n) / n

(ideal pluck; a saddle piezo senses force and lacks the delta comb). In decibels this is a sum: two
combs that depend on n, a response H common to all plucks of a voice that depends on frequency, and
a gain and slope per pluck. Several strings sound the same n at different frequencies, so that H
can be told from the combs. p and delta enter alike; they are told apart because the pickup stays
where it is from pluck to pluck and the pick does not. A pickup position known from
``session.toml`` is used as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.measure.columns import N_PARTIALS
from tonecompare.measure.model import FloatArray
from tonecompare.measure.partials import PartialSet

#: Picking points and pickup positions searched, share of the sounding length from the bridge.
PICK_GRID: FloatArray = np.arange(0.03, 0.4901, 0.002)
PICKUP_GRID: FloatArray = np.arange(0.03, 0.3401, 0.0025)
#: Nulls of a real comb are filled (two polarisations, finite pick and coil): power at a null.
NULL_FILL = 10.0**-2.6
#: Scatter of a partial about the model, dB (bridge and neck pull single partials).
SCATTER_DB = 2.0
#: Partials further below the strongest than this are not used.
WEAKEST_DB = 55.0
#: Fewer partials than this say nothing about a comb.
LEAST_PARTIALS = 7
#: What the ideal comb leaves out (finite pick and coil, filled nulls), share of the length: 0.23 mm
#: of 648, the error left on synthetic takes without noise.
MODEL_ERROR = 3.5e-4
#: A pick position less certain than this (share of the length) is not a measurement.
LEAST_CERTAIN = 0.03
#: Picks that vary less than this (share of the length, 0.8 mm of 648) leave open which comb is
#: which; hands vary by 3 mm.
LEAST_PICK_SPREAD = 0.00125
#: How much worse (in scaled cost) the best other pickup position must fit.
LEAST_EVIDENCE = 9.0
#: Frequencies between which the common response is drawn as straight lines over log frequency.
RESPONSE_HZ: FloatArray = np.geomspace(80.0, 9000.0, 13)

_ORDER = np.arange(1, N_PARTIALS + 1)
_ROUNDS = 4


@dataclass(frozen=True)
class PluckAmplitudes:
    """What one pluck contributes: partial levels and how long its string sounds.

    ``level_db`` (24,) amplitude at the onset in dB, NaN where unmeasured; ``level_sd_db`` (24,);
    ``frequency_hz`` (24,); ``sounding`` the sounding length over the scale length (1 for an open
    string), None when the string is unknown.
    """

    level_db: FloatArray
    level_sd_db: FloatArray
    frequency_hz: FloatArray
    sounding: float | None


@dataclass(frozen=True)
class Positions:
    """Result for one voice and output.

    ``pluck_point`` and ``pluck_point_sd`` have shape (n_plucks,), NaN where not determinable;
    ``pickup_point`` is the share of the *scale* length, None where not determinable, with the
    reason. ``response_db`` (13,) is the common response at :data:`RESPONSE_HZ` (NaN where no
    partial lies), ``response_sd_db`` its standard uncertainty; ``residual_db`` (n_plucks, 24) what
    the model leaves. ``gain_db`` (n_plucks,) is each pluck's level at 1 kHz with combs and response
    taken out: how hard it was picked, whatever the place.
    """

    pluck_point: FloatArray
    pluck_point_sd: FloatArray
    pickup_point: float | None
    pickup_point_sd: float | None
    reason: str
    response_db: FloatArray
    response_sd_db: FloatArray
    residual_db: FloatArray
    gain_db: FloatArray

    def response_points(self, frequency_hz: FloatArray) -> FloatArray:
        """Return the response with each partial's own residual, dB, shaped like ``residual_db``."""
        return _response_basis(frequency_hz) @ np.nan_to_num(self.response_db) + self.residual_db


def amplitudes_of(partials: PartialSet, *, sounding: float | None) -> PluckAmplitudes:
    """Partial amplitudes at the onset, from the fitted components or the level and its decay."""
    amplitude = np.sqrt(np.nansum(np.abs(partials.components_amplitude) ** 2, axis=1))
    rate = np.maximum(-partials.components_rate[:, 0].real, 0.0)
    from_level = np.sqrt(2.0 * partials.power) * np.exp(np.minimum(rate * 0.2, 2.0))
    amplitude = np.where(partials.n_components > 0, amplitude, from_level)
    with np.errstate(divide="ignore", invalid="ignore"):
        level_db = 20.0 * np.log10(np.where(partials.measured, amplitude, np.nan))
    sd = 10.0 / np.log(10.0) * partials.power_sd
    return PluckAmplitudes(level_db, sd, partials.frequency_hz, sounding)


def comb_db(share: FloatArray) -> FloatArray:
    """Level of partials 1…24 from a comb: 10 lg(sin²(n pi x) + fill), shape (…, 24)."""
    return np.asarray(
        10.0 * np.log10(np.sin(np.pi * _ORDER * np.asarray(share)[..., None]) ** 2 + NULL_FILL)
    )


def find_positions(
    plucks: Sequence[PluckAmplitudes], *, comb: bool = True, pickup_point: float | None = None
) -> Positions:
    """Find the picking point of every pluck and the pickup's position.

    Parameters
    ----------
    plucks
        All plucks of one voice and output.
    comb
        Whether the output senses velocity at a point (magnetic). False for a piezo or a blend.
    pickup_point
        Distance of the pickup from the bridge over the scale length, if known.

    Returns
    -------
    Positions
    """
    data = _Data.of(plucks)
    if not data.usable.any():
        return _nothing(len(plucks), "too few partials stand above the noise")
    if not comb:
        return _solve(data, None)
    if pickup_point is not None:
        return _solve(data, pickup_point)
    candidates = _pickup_candidates(data)
    solved = [(_solve(data, point)) for point in candidates]
    costs = np.array([_cost(data, each) for each in solved])
    best = int(np.argmin(costs))
    point = candidates[best]
    others = [
        cost - costs[best]
        for cost, other in zip(costs, candidates, strict=True)
        if abs(other - point) > 0.02
    ]
    chosen = solved[best]
    n_open = int(np.count_nonzero(data.usable))
    unsure = bool(others) and min(others) < LEAST_EVIDENCE
    if n_open < 4 or unsure or _picks_stood_still(chosen.pluck_point):
        reason = "the takes cannot tell the pickup's comb from the pick's"
        # Without the pickup's place the pick's cannot be told from it either.
        blank = np.full(len(plucks), np.nan)
        return replace(
            chosen, pluck_point=blank, pluck_point_sd=blank, pickup_point=None,
            pickup_point_sd=None, reason=reason, gain_db=blank,
        )  # fmt: skip
    return chosen


def _picks_stood_still(points: FloatArray) -> bool:
    """Whether the picking points vary so little that they might be the pickup's own comb."""
    known = points[np.isfinite(points)]
    if known.size < 4:
        return True
    low, high = np.percentile(known, [25.0, 75.0])
    return bool((high - low) / 1.349 < LEAST_PICK_SPREAD)


@dataclass(frozen=True)
class _Data:
    """All plucks side by side: levels with 1/n taken out, weights, lengths."""

    y: FloatArray
    weight: FloatArray
    frequency_hz: FloatArray
    sounding: FloatArray
    usable: np.ndarray

    @classmethod
    def of(cls, plucks: Sequence[PluckAmplitudes]) -> _Data:
        level = np.array([pluck.level_db for pluck in plucks]).reshape(-1, N_PARTIALS)
        sd = np.array([pluck.level_sd_db for pluck in plucks]).reshape(-1, N_PARTIALS)
        frequency = np.array([pluck.frequency_hz for pluck in plucks]).reshape(-1, N_PARTIALS)
        y = level + 20.0 * np.log10(_ORDER)
        top = np.nanmax(np.where(np.isfinite(level), level, -np.inf), axis=1, initial=-np.inf)
        known = np.isfinite(level) & np.isfinite(sd) & (level > top[:, None] - WEAKEST_DB)
        weight = np.where(known, 1.0 / (SCATTER_DB**2 + np.where(known, sd, 0.0) ** 2), 0.0)
        sounding = np.array([p.sounding if p.sounding is not None else np.nan for p in plucks])
        usable = (known.sum(axis=1) >= LEAST_PARTIALS) & np.isfinite(sounding)
        return cls(np.where(known, y, 0.0), weight * usable[:, None],
                   np.where(known, frequency, 1000.0), sounding, usable)  # fmt: skip


def _nothing(n_plucks: int, reason: str) -> Positions:
    blank = np.full(n_plucks, np.nan)
    response = np.full(RESPONSE_HZ.size, np.nan)
    return Positions(blank, blank, None, None, reason, response, response,
                     np.full((n_plucks, N_PARTIALS), np.nan), blank)  # fmt: skip


def _pickup_candidates(data: _Data) -> list[float]:
    """Pickup positions that fit best when H is a parabola over log frequency in each pluck."""
    total = np.zeros(PICKUP_GRID.size)
    pick = comb_db(PICK_GRID)
    for i in np.flatnonzero(data.usable):
        root = np.sqrt(data.weight[i])
        octave = np.log2(data.frequency_hz[i] / 1000.0)
        smooth = np.stack([np.ones_like(octave), octave, octave**2], axis=1) * root[:, None]
        q, _ = np.linalg.qr(smooth)

        def free(rows: FloatArray, root: FloatArray = root, q: FloatArray = q) -> FloatArray:
            scaled = rows * root
            return np.asarray(scaled - (scaled @ q) @ q.T)

        picks, pickups = free(pick), free(comb_db(PICKUP_GRID / data.sounding[i]))
        left = free(data.y[i][None, :])[0]
        cost = (
            np.sum(picks**2, axis=1)[:, None]
            - 2.0 * (picks @ left)[:, None]
            + 2.0 * picks @ pickups.T
        )
        best = np.min(cost, axis=0) + np.sum(pickups**2, axis=1) - 2.0 * pickups @ left
        total += best + float(left @ left)
    return _lowest(PICKUP_GRID, total, count=5)


def _lowest(grid: FloatArray, cost: FloatArray, *, count: int) -> list[float]:
    """Return the deepest local minima of a cost over a grid."""
    padded = np.concatenate([[np.inf], cost, [np.inf]])
    minima = np.flatnonzero((padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:]))
    order = minima[np.argsort(cost[minima])]
    return [float(grid[index]) for index in order[:count]]


def _response_basis(frequency_hz: FloatArray) -> FloatArray:
    """Hat functions over log frequency, shape (…, 13)."""
    at = np.interp(np.log(frequency_hz), np.log(RESPONSE_HZ), np.arange(RESPONSE_HZ.size))
    return np.asarray(np.maximum(0.0, 1.0 - np.abs(at[..., None] - np.arange(RESPONSE_HZ.size))))


def _solve(data: _Data, pickup_point: float | None) -> Positions:
    """Alternate between combs and the common response, for one assumed pickup position."""
    n_plucks = data.y.shape[0]
    basis = _response_basis(data.frequency_hz)
    octave = np.log2(data.frequency_hz / 1000.0)
    pick = comb_db(PICK_GRID)
    point = pickup_point
    points = np.full(n_plucks, 0.2)
    response = np.zeros(RESPONSE_HZ.size)
    covariance = np.eye(RESPONSE_HZ.size)
    for round_ in range(_ROUNDS):
        pickup = 0.0 if point is None else comb_db(point / data.sounding)
        base = data.y - pickup - (basis @ response if round_ else 0.0)
        degree = 1 if round_ else 2
        costs = _pick_costs(base, data.weight, octave, pick, degree)
        points = PICK_GRID[np.argmin(costs, axis=1)]
        response, covariance, left, gain = _fit_response(
            data.y - pickup - comb_db(points), data.weight, octave, basis
        )
        if point is not None and round_:
            smooth = data.y - left - pickup - comb_db(points)
            point = _refine_pickup(data, smooth, comb_db(points), point)
    costs = costs + _crowd(points, data) * _spread(left, data.weight) ** 2
    points, points_sd = _refine_picks(costs, left, data.weight)
    points = np.where(data.usable, points, np.nan)
    points_sd = np.where(data.usable & (points_sd < LEAST_CERTAIN), points_sd, np.nan)
    seen = (data.weight[..., None] * basis).sum(axis=(0, 1)) > 1.0
    spread = _spread(left, data.weight)
    return Positions(
        pluck_point=np.where(np.isfinite(points_sd), points, np.nan),
        pluck_point_sd=points_sd,
        pickup_point=point,
        pickup_point_sd=None if point is None else _pickup_sd(data, left, point),
        reason="",
        response_db=np.where(seen, response, np.nan),
        response_sd_db=np.where(seen, np.sqrt(np.diag(covariance)) * spread, np.nan),
        residual_db=np.where(data.weight > 0.0, left, np.nan),
        gain_db=np.where(data.usable, gain, np.nan),
    )


def _pick_costs(
    base: FloatArray, weight: FloatArray, octave: FloatArray, pick: FloatArray, degree: int
) -> FloatArray:
    """Cost of every picking point for every pluck, gain and slope (parabola) free."""
    root = np.sqrt(weight)
    columns = np.stack([octave**k for k in range(degree + 1)], axis=2) * root[:, :, None]
    q, _ = np.linalg.qr(columns)
    left = (base[:, None, :] - pick) * root[:, None, :]
    left -= (left @ q) @ q.transpose(0, 2, 1)
    size = np.abs(left)
    # Huber: beyond 2.5 standard scatters a partial counts linearly.
    return np.asarray(np.where(size < 2.5, size**2, 5.0 * size - 6.25).sum(axis=2))


def _fit_response(
    y: FloatArray, weight: FloatArray, octave: FloatArray, basis: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Fit the common response, a gain and slope per pluck free; a ridge keeps it smooth.

    Returns
    -------
    response (13,), covariance (13, 13) for unit scatter, residual like ``y``, gain (n_plucks,)
    """
    n_knots = basis.shape[-1]
    root = np.sqrt(weight)[:, :, None]
    columns = np.stack([np.ones_like(octave), octave], axis=2)
    q, _ = np.linalg.qr(columns * root)
    across = q.transpose(0, 2, 1)
    b = basis * root
    b -= q @ (across @ b)
    v = y[:, :, None] * root
    v -= q @ (across @ v)
    rows = b.reshape(-1, n_knots)
    normal, right = rows.T @ rows, rows.T @ v.ravel()
    bend = np.diff(np.eye(n_knots), n=2, axis=0)
    covariance: FloatArray = np.asarray(
        np.linalg.inv(normal + 0.05 * bend.T @ bend + 1e-3 * np.eye(n_knots))
    )
    response = np.asarray(covariance @ right, dtype=np.float64)
    left: FloatArray = y - basis @ response
    weighted = columns * weight[:, :, None]
    gram = columns.transpose(0, 2, 1) @ weighted + 1e-9 * np.eye(2)
    line = np.linalg.solve(gram, weighted.transpose(0, 2, 1) @ left[:, :, None])
    left = left - (columns @ line)[:, :, 0]
    return response, covariance, np.asarray(left), np.asarray(line[:, 0, 0], dtype=np.float64)


def _crowd(points: FloatArray, data: _Data) -> FloatArray:
    """Return what picking points far from the voice's others cost, (n_plucks, grid).

    A player aims at one place, whatever the fret: (x / 0.04)² with x the distance in shares of the
    scale length, but never more than 12, so that a pluck that truly was elsewhere may say so.
    """
    sounding = np.where(data.usable, data.sounding, 1.0)
    middle = float(np.median((points * sounding)[data.usable]))
    off = (PICK_GRID[None, :] * sounding[:, None] - middle) / 0.04
    return np.asarray(np.minimum(off**2, 12.0))


def _refine_pickup(data: _Data, smooth: FloatArray, picks: FloatArray, point: float) -> float:
    """Pickup position that fits best near the last one, everything else kept."""
    near = point + np.arange(-0.006, 0.00601, 0.0005)
    target = data.y - smooth - picks
    costs = [
        float(np.sum(data.weight * (target - comb_db(share / data.sounding)) ** 2))
        for share in near
    ]
    return float(near[int(np.argmin(costs))])


def _refine_picks(
    costs: FloatArray, left: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Refine picking points between grid values by a parabola, with uncertainties."""
    step = float(PICK_GRID[1] - PICK_GRID[0])
    index = np.clip(np.argmin(costs, axis=1), 1, costs.shape[1] - 2)
    rows = np.arange(costs.shape[0])
    below, here, above = costs[rows, index - 1], costs[rows, index], costs[rows, index + 1]
    curve = np.maximum(below - 2.0 * here + above, 1e-9)
    shift = np.clip(0.5 * (below - above) / curve, -1.0, 1.0)
    spread = _spread(left, weight)
    sd = np.hypot(step * np.sqrt(2.0 / curve) * spread, MODEL_ERROR)
    # A rival dip almost as deep makes the place ambiguous.
    far = np.abs(np.arange(costs.shape[1])[None, :] - index[:, None]) * step > 0.03
    rival = np.min(np.where(far, costs, np.inf), axis=1) - here
    sd = np.where(rival < 4.0 * spread**2, np.inf, sd)
    return PICK_GRID[index] + shift * step, sd


def _spread(left: FloatArray, weight: FloatArray) -> float:
    """Scatter of the residuals in units of the assumed scatter, robust, at least a quarter."""
    scaled = np.abs(left * np.sqrt(weight))[weight > 0.0]
    return max(0.25, 1.4826 * float(np.median(scaled))) if scaled.size else 1.0


def _pickup_sd(data: _Data, left: FloatArray, point: float) -> float:
    """Return the pickup position's standard uncertainty from the curvature of its cost."""
    step = 0.002
    base = comb_db(point / data.sounding)
    costs = []
    for share in (point - step, point, point + step):
        moved = left - (comb_db(share / data.sounding) - base)
        costs.append(float(np.sum(data.weight * moved**2)))
    curve = max(costs[0] - 2.0 * costs[1] + costs[2], 1e-9)
    random = step * np.sqrt(2.0 / curve) * _spread(left, data.weight)
    return float(np.hypot(random, MODEL_ERROR))


def _cost(data: _Data, positions: Positions) -> float:
    """Scaled cost of a whole solution, for choosing between pickup positions."""
    size = np.abs(np.nan_to_num(positions.residual_db) * np.sqrt(data.weight))
    return float(np.sum(np.where(size < 2.5, size**2, 5.0 * size - 6.25)))
