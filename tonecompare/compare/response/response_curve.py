"""The response of a change: by how many dB the after sound differs over frequency.

Every partial of every note is a probe of the frequency it stands at. With ``y_kn`` the level
difference of partial n of note k, after minus before, picking place taken out,

``y_kn = D(f_kn) + a_k + e_kn``

where D is smooth, ``a_k`` is what the hand did to one note as a whole and ``e_kn`` scatters by
what re-plucking explains plus what one note has for itself. D stands on a 1/6-octave grid with a
penalty on its second differences; the size of all four spreads follows from the data (restricted
maximum likelihood). The band is the 95 % interval of that fit, which for smoothing splines covers
the truth on average over frequency (Wahba 1983; Nychka 1988; both from memory). The level of the
curve as a whole is known as well as the mean of ``a_k``: a harder hand throughout lifts all of it,
and taking the picking place out takes the pick's force to be equal (a string let go from equal
height instead is louder nearer the bridge, by 0.6 dB for 12 mm).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import (
    comb_db,
    comb_slope_db,
    numbers,
    release_level_db,
)
from tonecompare.compare.difference.statistics import t_quantile
from tonecompare.compare.model import Response
from tonecompare.measure.model import Measurements
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS
from tonecompare.session.model import ComparisonSpec

#: Grid of the curve: 1/6 octaves around 1 kHz.
GRID_HZ = 1000.0 * 2.0 ** (np.arange(-24, 22) / 6.0)
#: Fewer notes or partials than this give no curve.
FEWEST_NOTES = 2
FEWEST_PARTIALS = 12
#: A partial's level is never surer than this from plucks, dB.
LEAST_SCATTER_DB = 0.3
#: Uncertainty of the picking place of one pluck that partials near a null suffer from.
PLACE_SD = 0.004
#: The curve ends where no partial lies within this many octaves …
REACH_OCTAVES = 1.0 / 6.0
#: … and where partials of one note only lie within this many: one hand position is no response.
SHARED_OCTAVES = 1.0 / 3.0
#: Steps the search for the spreads may take: first for the weights of the partials, then for good.
_STEPS = (80, 400)


@dataclass(frozen=True)
class Probes:
    """Level differences of partials, one element each."""

    frequency_hz: FloatArray
    difference_db: FloatArray
    #: Variance that re-plucking explains.
    variance: FloatArray
    #: Which note, 0, 1, …
    note: NDArray[np.intp]
    n_notes: int
    #: What is unsure about the level of all of them, dB, since the pick moved (standard deviation).
    common_sd_db: float = 0.0


def find_responses(
    measurements: Measurements, specs: Mapping[str, ComparisonSpec]
) -> tuple[Response, ...]:
    """Return the response of every comparison, voice and output that has enough partials."""
    found = []
    plucks = measurements.plucks
    for name, spec in specs.items():
        if plucks.empty:
            break
        of = plucks[plucks["stage"].isin([spec.before, spec.after])]
        for (voice, output), group in of.groupby(["voice", "output"], sort=False):
            probes = probes_of(group, spec.before, spec.after)
            curve = None if probes is None else fit_response(probes)
            if probes is not None and curve is not None:
                found.append(
                    Response(name, str(voice), str(output), GRID_HZ, *curve, probes.n_notes)
                )
    return tuple(found)


def probes_of(plucks: pd.DataFrame, before: str, after: str) -> Probes | None:
    """Return the partials of one voice and output that both stages have; None when too few.

    Partials are absolute (level plus balance). Where the picking place is known, each pluck's comb
    is taken off first.
    """
    levels = numbers(plucks, list(PARTIAL_LEVELS))
    levels += numbers(plucks, ["level_dbfs"])
    place = numbers(plucks, ["pluck_point"])[:, 0]
    known = np.isfinite(place)
    unsure = np.zeros_like(levels)
    levels[known] -= comb_db(place[known])
    unsure[known] = np.square(PLACE_SD * comb_slope_db(place[known]))
    f0, stretch = numbers(plucks, ["f0_hz", "inharmonicity"]).T
    stage = plucks["stage"].astype(str).to_numpy()
    note = plucks["note"].astype(str).to_numpy()
    parts: list[tuple[FloatArray, FloatArray, FloatArray, int]] = []
    for name in dict.fromkeys(note[note != ""]):
        sides = [(stage == s) & (note == name) for s in (before, after)]
        if not all(side.any() for side in sides):
            continue
        frequency_hz = _partials_hz(f0[sides[0] | sides[1]], stretch[sides[0] | sides[1]])
        if frequency_hz is None:
            continue
        means, variances = zip(*(_side(levels[s], unsure[s]) for s in sides), strict=True)
        parts.append(
            (
                frequency_hz,
                means[1] - means[0],
                variances[0] + variances[1],
                len(parts),
            )
        )
    if len(parts) < FEWEST_NOTES:
        return None
    frequency, difference, variance = (np.concatenate([p[i] for p in parts]) for i in range(3))
    index = np.repeat([p[3] for p in parts], N_PARTIALS)
    there = np.isfinite(difference) & np.isfinite(variance)
    there &= (frequency >= GRID_HZ[0]) & (frequency <= GRID_HZ[-1])
    if there.sum() < FEWEST_PARTIALS or np.unique(index[there]).size < FEWEST_NOTES:
        return None
    notes, index = np.unique(index[there], return_inverse=True)
    return Probes(
        frequency[there],
        difference[there],
        variance[there],
        index,
        notes.size,
        _common_sd_db(place, stage, before, after),
    )


def _partials_hz(f0_hz: FloatArray, inharmonicity: FloatArray) -> FloatArray | None:
    """Where the partials of one note stand: ``n f_1 sqrt((1 + B n²)/(1 + B))`` (Fletcher 1964).

    Medians over the plucks; an unknown B is 0. None without any pitch. At the 12th fret of a low
    E partial 24 stands some 230 cents above ``24 f_1``.
    """
    known = f0_hz[np.isfinite(f0_hz)]
    if known.size == 0:
        return None
    there = inharmonicity[np.isfinite(inharmonicity)]
    b = float(np.median(there)) if there.size else 0.0
    n = np.arange(1.0, N_PARTIALS + 1.0)
    return np.asarray(float(np.median(known)) * n * np.sqrt((1.0 + b * n * n) / (1.0 + b)))


def _common_sd_db(place: FloatArray, stage: NDArray[np.object_], before: str, after: str) -> float:
    """Half the span between equal force and equal height, as evenly likely all the way."""
    means = [place[(stage == s) & np.isfinite(place)] for s in (before, after)]
    if not all(side.size for side in means):
        return 0.0
    span_db = release_level_db(float(means[0].mean()), float(means[1].mean()))
    return abs(span_db) / float(np.sqrt(3.0))


def _side(levels: FloatArray, unsure: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Median over the plucks of one note and its variance, partial by partial."""
    there = np.isfinite(levels)
    count = there.sum(axis=0)
    mean = np.full(levels.shape[1], np.nan)
    some = count > 0
    mean[some] = np.nanmedian(levels[:, some], axis=0)
    deviation = np.where(there, levels - mean, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        scatter = np.square(deviation).sum(axis=0) / np.maximum(count - 1, 1)
        place = np.where(there, unsure, 0.0).sum(axis=0) / count
        variance = (np.maximum(scatter, LEAST_SCATTER_DB**2) + place) / count
    return mean, np.where(some, variance, np.nan)


def fit_response(probes: Probes) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Return the curve and its 95 % band on :data:`GRID_HZ`, NaN where no partial is near.

    None with too few partials, and where the search for the spreads behind the band did not come
    to rest.
    """
    grid = np.log2(GRID_HZ)
    basis = _hats(np.log2(probes.frequency_hz), grid)
    near, supported = _supported(probes, grid)
    used = np.flatnonzero(near)
    if used.size < 4:
        return None
    keep = slice(int(used[0]), int(used[-1]) + 1)
    basis = basis[:, keep]
    design = np.hstack([basis, np.eye(probes.n_notes)[probes.note]])
    weight = np.ones(probes.difference_db.size)
    theta = np.log([0.5, 1.0, 1.0])
    solution = None
    converged = False
    for steps in _STEPS:
        theta, converged = _spreads(probes, design, basis.shape[1], weight, theta, steps)
        solution = _solve(probes, design, basis.shape[1], weight, theta)
        # Huber's weights: a partial in a null of somebody's comb says little.
        residual = (probes.difference_db - design @ solution[0]) / np.sqrt(solution[2])
        weight = np.minimum(1.0, 2.0 / np.maximum(np.abs(residual), 1e-9))
    if solution is None or not converged:
        return None
    mean, covariance, _ = solution
    count = basis.shape[1]
    # The notes' own offsets are free; their mean belongs to the curve.
    share = np.hstack([np.eye(count), np.zeros((count, probes.n_notes))])
    se = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", share, covariance, share), 0.0))
    half = float(t_quantile(0.975, max(probes.n_notes - 1.0, 1.0))) * se
    half = np.hypot(half, 1.96 * probes.common_sd_db)
    curve, low, high = (np.full(GRID_HZ.size, np.nan) for _ in range(3))
    curve[keep], low[keep], high[keep] = mean[:count], mean[:count] - half, mean[:count] + half
    for values in (curve, low, high):
        values[~supported] = np.nan
    return curve, low, high


def _supported(probes: Probes, grid: FloatArray) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return where on the grid any partial lies near enough, and where two notes' do."""
    apart = np.abs(np.log2(probes.frequency_hz)[:, None] - grid)
    shared = apart <= SHARED_OCTAVES
    notes = np.stack([shared[probes.note == k].any(axis=0) for k in range(probes.n_notes)])
    near = np.asarray(apart.min(axis=0) <= REACH_OCTAVES)
    return near, near & (notes.sum(axis=0) >= 2)


def _hats(where: FloatArray, grid: FloatArray) -> FloatArray:
    """Linear interpolation from the grid, (probes, grid)."""
    step = grid[1] - grid[0]
    return np.asarray(np.maximum(1.0 - np.abs(where[:, None] - grid) / step, 0.0))


def _solve(
    probes: Probes, design: FloatArray, count: int, weight: FloatArray, theta: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    variance, precision = _model(probes, design, count, weight, theta)
    covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    mean = covariance @ (design.T @ (probes.difference_db / variance))
    return mean, covariance, variance


def _model(
    probes: Probes, design: FloatArray, count: int, weight: FloatArray, theta: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Variance of each probe and precision matrix for log spreads theta = (own, note, bend)."""
    own, note, bend = np.exp(theta)
    variance = (probes.variance + own**2) / weight
    second = np.diff(np.eye(count), n=2, axis=0)
    prior = np.zeros((design.shape[1], design.shape[1]))
    prior[:count, :count] = second.T @ second / bend**2
    prior[count:, count:] = np.eye(probes.n_notes) / note**2
    return variance, (design.T / variance) @ design + prior + 1e-9 * np.eye(design.shape[1])


def _spreads(
    probes: Probes,
    design: FloatArray,
    count: int,
    weight: FloatArray,
    start: FloatArray,
    steps: int,
) -> tuple[FloatArray, bool]:
    """Log spreads of greatest restricted likelihood (own, note, bend); whether they were found."""

    def cost(theta: FloatArray) -> float:
        variance, precision = _model(probes, design, count, weight, theta)
        try:
            root = np.linalg.cholesky(precision)
        except np.linalg.LinAlgError:
            return 1e12
        mean = np.linalg.solve(precision, design.T @ (probes.difference_db / variance))
        residual = probes.difference_db - design @ mean
        note, bend = np.exp(theta[1:])
        penalty = np.square(np.diff(mean[:count], n=2)).sum() / bend**2
        penalty += np.square(mean[count:]).sum() / note**2
        value = np.square(residual).dot(1.0 / variance) + penalty + np.log(variance).sum()
        value += 2.0 * np.log(np.diag(root)).sum()
        value += 2.0 * (count - 2) * np.log(bend) + 2.0 * probes.n_notes * np.log(note)
        # A weak prior keeps a spread that the data do not show from running away.
        return float(value + 0.05 * np.square(theta - np.log([0.5, 1.0, 0.7])).sum())

    found = minimize(cost, start, method="Nelder-Mead", options={"maxiter": steps, "xatol": 0.05,
                     "fatol": 0.05})  # fmt: skip
    return np.clip(found.x, np.log(1e-3), np.log(30.0)), bool(found.success)
