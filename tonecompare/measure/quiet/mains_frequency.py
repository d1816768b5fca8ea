"""The mains frequency, found in the recording from its whole family of lines.

Weighted maximum likelihood: with lines k·f of unknown amplitudes in a floor of density S, the
likelihood of f grows with ``J(f) = sum_k |X(k f)|² / S(k f)`` (harmonic-sum periodogram; Rife &
Boorstyn, IEEE Trans. IT-20 (1974), for one line). The lines must agree on one f, frame by frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammainccinv

from tonecompare.arrays import FloatArray
from tonecompare.measure.quiet.hiss_floor import Floor
from tonecompare.measure.quiet.quiet_frames import (
    MEAN_W2,
    MEAN_W4,
    ComplexArray,
    Frames,
    hann_kernel,
)

NOMINAL_HZ = (50.0, 60.0)
#: EN 50160: within 1 % of nominal for 99.5 % of a year.
SEARCH_SHARE = 0.01
#: Lines up to here are hum, lines above are buzz.
HUM_TOP_HZ = 1000.0
#: Where no hum shows, a family is looked for among the buzz lines up to here as well.
BUZZ_SEARCH_TOP_HZ = 5000.0
#: Bins either side of a line that its amplitude is fitted from (fewer in short stretches).
FIT_HALF_WIDTH = 5
#: Chance that noise alone passes for one line of a known family.
LINE_FALSE_ALARM = 1e-3
#: Chance that noise alone passes for a mains family.
FAMILY_FALSE_ALARM = 1e-4
#: Mean of w⁴ u² over the squared mean of w² u², u from -1/2 to 1/2, w Hann: what the window costs
#: the frequency estimate (12 for no window).
_U = (np.arange(4096) + 0.5) / 4096 - 0.5
_W = 0.5 + 0.5 * np.cos(2.0 * np.pi * _U)
FREQUENCY_VARIANCE = float(np.mean(_W**4 * _U**2) / np.mean(_W**2 * _U**2) ** 2)


@dataclass(frozen=True)
class Mains:
    """Mains frequency: its mean, standard uncertainty, and its track over the frames (M,)."""

    frequency_hz: float
    uncertainty_hz: float
    track_hz: FloatArray


def fit_half_width(mains_hz: float, frames: Frames) -> int:
    """Return over how many bins either side a line is fitted so that neighbours stay out."""
    return int(min(FIT_HALF_WIDTH, max(1, int(0.45 * mains_hz / frames.bin_hz))))


def _pick(frames: Frames, line_hz: FloatArray, half_width: int) -> tuple[ComplexArray, FloatArray]:
    """Bins around each line and the kernel there, both (M, K, 2 half_width + 1)."""
    nearest = np.rint(line_hz / frames.bin_hz).astype(np.intp)
    offsets = np.arange(-half_width, half_width + 1)
    bins = np.minimum(np.maximum(nearest[..., None] + offsets, 0), frames.spectra.shape[1] - 1)
    kernel = hann_kernel(bins - line_hz[..., None] / frames.bin_hz)
    rows = np.arange(line_hz.shape[0])[:, None, None]
    return frames.spectra[rows, bins], kernel


def line_amplitudes(frames: Frames, line_hz: FloatArray, *, half_width: int) -> ComplexArray:
    """Return complex amplitudes (M, K) of sinusoids at ``line_hz`` (M, K), least squares.

    The fit runs over ``half_width`` bins either side of each line in the Hann spectrum; the
    window keeps lines that are many bins apart out of each other.
    """
    picked, kernel = _pick(frames, line_hz, half_width)
    return np.asarray(
        (2.0 / frames.n) * (picked * kernel).sum(axis=-1) / np.square(kernel).sum(axis=-1)
    )


def amplitude_noise(frames: Frames, density: FloatArray) -> FloatArray:
    """Return the mean square |c|²/2 that a floor of this density puts into one fitted line."""
    return np.asarray(density * (MEAN_W4 / MEAN_W2**2) / frames.length_s)


def _ratio(frames: Frames, line_hz: FloatArray, noise: FloatArray, half_width: int) -> FloatArray:
    """Projection of the spectrum on each line's kernel over what the floor alone projects.

    ``noise`` must not move with ``line_hz``, or a sloping floor would pull the maximum.
    """
    picked, kernel = _pick(frames, line_hz, half_width)
    projected = (picked * kernel).sum(axis=-1)
    power = np.square(projected.real) + np.square(projected.imag)
    power /= np.square(kernel).sum(axis=-1) * MEAN_W2
    scale = 0.5 * (2.0 / frames.n) ** 2
    return np.asarray(scale * power / noise)


def _noise_of(frames: Frames, floor: Floor, line_hz: FloatArray) -> FloatArray:
    return amplitude_noise(frames, floor.density_at(line_hz))


def _orders(nominal_hz: float, top_hz: float) -> FloatArray:
    return np.arange(1.0, np.floor(top_hz / (nominal_hz * (1.0 + SEARCH_SHARE))) + 1.0)


def _coarse(
    frames: Frames, density: FloatArray, floor: Floor, nominal_hz: float, orders: FloatArray
) -> tuple[float, float, FloatArray]:
    """Best f on a grid by the nearest bins: (f, mean score, line over noise (K,))."""
    step = 0.4 * frames.bin_hz / orders[-1]
    span = SEARCH_SHARE * nominal_hz
    grid = nominal_hz + np.arange(-span, span + step / 2.0, step)
    lines = grid[:, None] * orders
    bins = np.rint(lines / frames.bin_hz).astype(np.intp)
    smooth = floor.density_at(orders * nominal_hz)
    ratio = density[bins] / smooth
    # The logarithm keeps one strong foreign tone from outvoting a whole family.
    score = np.log1p(ratio).sum(axis=1)
    best = int(np.argmax(score))
    return float(grid[best]), float(score[best]) / orders.size, ratio[best]


def _is_family(
    ratio: FloatArray, unsure: FloatArray, orders: FloatArray, independent: float, trials: float
) -> bool:
    """Whether the lines over noise (K,), averaged over the frames, are more than noise.

    ``unsure`` (K,) is the relative standard uncertainty of the noise under each.
    """
    single = float(gammainccinv(independent, FAMILY_FALSE_ALARM / (3.0 * trials))) / independent
    line = float(gammainccinv(independent, LINE_FALSE_ALARM)) / independent
    joint = float(gammainccinv(independent * ratio.size, FAMILY_FALSE_ALARM / trials))
    low = orders <= 3
    strong_low = bool((ratio[low] > single * (1.0 + 2.0 * unsure[low])).any())
    several = int((ratio > line).sum()) >= 2 and ratio.sum() * independent > joint
    return strong_low or several


def _refine(
    frames: Frames, noise: FloatArray, start_hz: FloatArray, orders: FloatArray, half_width: int
) -> FloatArray:
    """Climb J(f) in every frame by parabolas of shrinking width, from ``start_hz`` (M,)."""
    f = start_hz.copy()
    weight = _ratio(frames, f[:, None] * orders, noise, half_width).mean(axis=0)
    reach = float(np.sqrt((orders**2 * weight).sum() / weight.sum()))
    step = 0.3 * frames.bin_hz / reach
    for _ in range(7):
        trial = f[:, None] + step * np.array([-1.0, 0.0, 1.0])
        lines = (trial[:, :, None] * orders).reshape(f.size, -1)
        j = _ratio(frames, lines, np.tile(noise, 3), half_width)
        j = j.reshape(f.size, 3, -1).sum(axis=-1)
        curve = j[:, 0] - 2.0 * j[:, 1] + j[:, 2]
        slope = 0.5 * (j[:, 2] - j[:, 0])
        with np.errstate(divide="ignore", invalid="ignore"):
            move = np.where(curve < 0.0, -slope / curve, np.sign(slope))
        f = f + step * np.minimum(np.maximum(move, -1.5), 1.5)
        step *= 0.5
    return f


def _variance(frames: Frames, ratio: FloatArray, orders: FloatArray) -> FloatArray:
    """Variance (M,) of f from line over noise (M, K).

    ``FREQUENCY_VARIANCE / (4 pi² T² sum k² SNR_k)``, SNR_k = A_k²/S T (Rife & Boorstyn 1974 with
    a window).
    """
    noise_factor = MEAN_W4 / MEAN_W2**2
    # A²/S = 2 P/S, and ratio - 1 = P T / (S noise_factor).
    snr = np.maximum(ratio - 1.0, 0.0) * 2.0 * noise_factor
    information = (orders**2 * snr).sum(axis=-1)
    with np.errstate(divide="ignore"):
        return np.asarray(FREQUENCY_VARIANCE / (4.0 * np.pi**2 * frames.length_s**2 * information))


def _fit(
    frames: Frames, noise: FloatArray, start_hz: FloatArray, orders: FloatArray, half_width: int
) -> tuple[FloatArray, FloatArray]:
    """Frequency in every frame and its variance, both (M,)."""
    f = _refine(frames, noise, start_hz, orders, half_width)
    ratio = _ratio(frames, f[:, None] * orders, noise, half_width)
    variance = _variance(frames, ratio, orders)
    # A frame without any line in it tells nothing: as unsure as the bins are wide.
    return f, np.minimum(variance, frames.bin_hz**2)


def _track(f: FloatArray, variance: FloatArray, frames: Frames) -> tuple[FloatArray, float, float]:
    """Track, mean and its variance: one value if the frames agree, each its own if they drift."""
    weight = 1.0 / variance
    mean = float((weight * f).sum() / weight.sum())
    chi2 = float((weight * np.square(f - mean)).sum())
    if f.size == 1:
        return f, mean, float(variance[0])
    excess = chi2 / (f.size - 1)
    if excess < 4.0:
        overlap = frames.variance_of_mean("frequency") * f.size
        return np.full(f.size, mean), mean, max(excess, 1.0) * overlap / float(weight.sum())
    return f, float(f.mean()), float(variance.mean() / f.size)


def _sharpen(frames: Frames, floor: Floor, mains: Mains, half_width: int) -> Mains:
    """Let strong lines above 1 kHz into the fit as far as f is known well enough to find them."""
    for _ in range(3):
        top = 0.25 * frames.bin_hz / max(3.0 * mains.uncertainty_hz, 1e-9)
        limit = min(top, 0.45 * frames.rate_hz / mains.frequency_hz, 20000.0 / mains.frequency_hz)
        orders = np.arange(1.0, np.floor(limit) + 1.0)
        if orders.size < 2:
            break
        noise = _noise_of(frames, floor, mains.frequency_hz * orders)
        ratio = _ratio(frames, mains.track_hz[:, None] * orders, noise, half_width).mean(axis=0)
        keep = np.flatnonzero(ratio > 20.0)[:200]
        if keep.size == 0:
            break
        f, variance = _fit(frames, noise[keep], mains.track_hz, orders[keep], half_width)
        track, mean, var = _track(f, variance, frames)
        uncertainty = float(np.sqrt(var))
        done = uncertainty > 0.7 * mains.uncertainty_hz
        mains = Mains(mean, uncertainty, track)
        if done:
            break
    return mains


def find_mains(
    frames: Frames, density: FloatArray, floor: Floor, *, nominal_hz: float | None
) -> Mains | None:
    """Return the mains frequency, or None when no family of lines stands above the floor.

    Parameters
    ----------
    frames
        Hann frames of the quiet.
    density
        (F,) their mean power spectral density.
    floor
        First floor, lines still in the spectrum.
    nominal_hz
        50 or 60 when known, None to decide from the data.
    """
    for top_hz in (HUM_TOP_HZ, BUZZ_SEARCH_TOP_HZ):
        found = _best_family(frames, density, floor, nominal_hz, top_hz)
        if found is not None:
            break
    else:
        return None
    f, nominal, orders = found
    half_width = fit_half_width(nominal, frames)
    start = np.full(frames.spectra.shape[0], f)
    noise = _noise_of(frames, floor, f * orders)
    ratio = _ratio(frames, start[:, None] * orders, noise, half_width).mean(axis=0)
    strong = np.flatnonzero(ratio > 4.0)
    strong = strong if strong.size else np.array([int(np.argmax(ratio))])
    fitted = _fit(frames, noise[strong], start, orders[strong], half_width)
    track, mean, var = _track(*fitted, frames)
    if abs(mean / nominal - 1.0) > 1.5 * SEARCH_SHARE:
        return None
    return _sharpen(frames, floor, Mains(mean, float(np.sqrt(var)), track), half_width)


def _best_family(
    frames: Frames, density: FloatArray, floor: Floor, nominal_hz: float | None, top_hz: float
) -> tuple[float, float, FloatArray] | None:
    """Roughly found (f, nominal, orders) of the family that stands out most, if any does."""
    best: tuple[float, float, float] | None = None
    for nominal in NOMINAL_HZ if nominal_hz is None else (nominal_hz,):
        orders = _orders(nominal, min(top_hz, 0.45 * frames.rate_hz))
        f, score, ratio = _coarse(frames, density, floor, nominal, orders)
        trials = max(1.0, 2.0 * SEARCH_SHARE * nominal * orders[-1] / frames.bin_hz)
        unsure = floor.relative_se_at(f * orders)
        if not _is_family(ratio, unsure, orders, frames.independent, trials):
            continue
        if best is None or score > best[0]:
            best = (score, f, nominal)
    if best is None:
        return None
    return best[1], best[2], _orders(best[2], min(top_hz, 0.45 * frames.rate_hz))
