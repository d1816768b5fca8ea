"""The response of a change: by how many dB the after sound differs over frequency.

Every partial of every note is a probe of the frequency it stands at. With ``y_kn`` the level
difference of partial n of note k, after minus before, picking place taken out,

``y_kn = D(f_kn) + a_k + b_k f_kn² + e_kn``

where D is smooth, ``a_k`` is what the hand did to one note as a whole, ``b_k`` how much harder or
softer the string slipped off the pick (a release over some time bends the treble with f²) and
``e_kn`` scatters by what re-plucking explains plus what one note has for itself. D stands on a
1/6-octave grid with a penalty on its second differences; the size of all five spreads follows from
the data (restricted maximum likelihood). The band is the 95 % interval of that fit, which for
smoothing splines covers the truth on average over frequency (Wahba 1983; Nychka 1988; both from
memory). The curve as a whole is known as well as the means of ``a_k`` and ``b_k``: a harder hand
throughout lifts all of it, and taking the picking place out takes the pick's force to be equal (a
string let go from equal height instead is louder nearer the bridge, by 0.6 dB for 12 mm).

Places that do not exist (one comb fitted to two pickups) would write their combs into the curve.
Right ones make neighbouring partials of all notes agree better than they do without; where they do
not (:func:`borne_out`), there is no curve.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.statistics import t_quantile
from tonecompare.compare.model import Response
from tonecompare.compare.response.response_probes import GRID_HZ, Probes, borne_out, probes_of
from tonecompare.compare.voices_paired import of_comparison
from tonecompare.measure.model import Measurements
from tonecompare.session.model import ComparisonSpec

#: The curve ends where no partial lies within this many octaves …
REACH_OCTAVES = 1.0 / 6.0
#: … and where partials of one note only lie within this many: one hand position is no response.
SHARED_OCTAVES = 1.0 / 3.0
#: Where the bend of a release is counted in dB.
BEND_HZ = 4000.0
#: Likely spreads in dB: of what a partial has for itself, of the notes' offsets, of the curve's
#: second differences, of the notes' bends at :data:`BEND_HZ`.
_LIKELY = (0.5, 1.0, 0.7, 0.7)
#: Steps the search for the spreads may take: first for the weights of the partials, then for good.
_STEPS = (120, 600)


def find_responses(
    measurements: Measurements, specs: Mapping[str, ComparisonSpec]
) -> tuple[Response, ...]:
    """Return the response of every comparison, voice and output that has enough partials."""
    found = []
    for name, spec in specs.items():
        plucks = of_comparison(measurements, spec).plucks
        if plucks.empty:
            continue
        of = plucks[plucks["stage"].isin([spec.before, spec.after])]
        for (voice, output), group in of.groupby(["voice", "output"], sort=False):
            probes = probes_of(group, spec.before, spec.after)
            if probes is not None and not borne_out(probes):
                continue
            curve = None if probes is None else fit_response(probes)
            if probes is not None and curve is not None:
                found.append(
                    Response(name, str(voice), str(output), GRID_HZ, *curve, probes.n_notes)
                )
    return tuple(found)


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
    of_note = np.eye(probes.n_notes)[probes.note]
    bend = np.square(probes.frequency_hz / BEND_HZ)[:, np.newaxis]
    design = np.hstack([basis, of_note, of_note * bend])
    weight = np.ones(probes.difference_db.size)
    theta = np.log(_LIKELY)
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
    # The notes' own offsets and bends are free; their means belong to the curve.
    share = np.hstack([np.eye(count), np.zeros((count, 2 * probes.n_notes))])
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
    """Variance of each probe and precision matrix for log spreads theta, see :data:`_LIKELY`."""
    own, note, bend, release = np.exp(theta)
    variance = (probes.variance + own**2) / weight
    second = np.diff(np.eye(count), n=2, axis=0)
    prior = np.zeros((design.shape[1], design.shape[1]))
    prior[:count, :count] = second.T @ second / bend**2
    of_notes = np.repeat([note, release], probes.n_notes) ** -2.0
    prior[count:, count:] = np.diag(of_notes)
    return variance, (design.T / variance) @ design + prior + 1e-9 * np.eye(design.shape[1])


def _spreads(
    probes: Probes,
    design: FloatArray,
    count: int,
    weight: FloatArray,
    start: FloatArray,
    steps: int,
) -> tuple[FloatArray, bool]:
    """Log spreads of greatest restricted likelihood; whether they were found."""

    def cost(theta: FloatArray) -> float:
        variance, precision = _model(probes, design, count, weight, theta)
        try:
            root = np.linalg.cholesky(precision)
        except np.linalg.LinAlgError:
            return 1e12
        mean = np.linalg.solve(precision, design.T @ (probes.difference_db / variance))
        residual = probes.difference_db - design @ mean
        note, bend, release = np.exp(theta[1:])
        penalty = np.square(np.diff(mean[:count], n=2)).sum() / bend**2
        offsets, bends = np.split(mean[count:], 2)
        penalty += np.square(offsets).sum() / note**2 + np.square(bends).sum() / release**2
        value = np.square(residual).dot(1.0 / variance) + penalty + np.log(variance).sum()
        value += 2.0 * np.log(np.diag(root)).sum()
        value += 2.0 * (count - 2) * np.log(bend) + 2.0 * probes.n_notes * np.log(note * release)
        # A weak prior keeps a spread that the data do not show from running away.
        return float(value + 0.05 * np.square(theta - np.log(_LIKELY)).sum())

    found = minimize(cost, start, method="Nelder-Mead", options={"maxiter": steps, "xatol": 0.05,
                     "fatol": 0.05})  # fmt: skip
    return np.clip(found.x, np.log(1e-3), np.log(30.0)), bool(found.success)
