"""The coil's resonance as far as all outputs of one guitar can show it, or why they cannot.

The loaded coil is a second-order low-pass (resonance f_r, quality Q):

    20 lg | 1 / (1 - (f/f_r)² + i f / (Q f_r)) |

It is told from what the hand's release does to the treble by what outputs differ by
(:mod:`tonecompare.measure.place.shared_release`). A resonance above the partials that sound, or one
that the release may have made, is "not determinable"; by how much it moved may be known even so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy import special

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.resonances import OutputKey, SharedRelease

#: A low-pass with less Q than this has no bump (closed form, 1/sqrt 2).
LEAST_LOG_Q = float(-0.5 * np.log(2.0))
#: A resonance or Q less certain than this (share of itself) is not a measurement; where no other
#: output differs, so that only the assumed form of the release tells, the second.
LEAST_CERTAIN, LEAST_CERTAIN_ALIKE, LEAST_CERTAIN_Q = 0.15, 0.1, 0.3
#: Resonances differ where chance alone would make one of all the other outputs differ so much no
#: oftener than this: by two standard deviations of one other output, 2.6 of five.
DIFFERS_P = 0.0455
#: Partials must reach this far beyond a resonance; from FAR_SIDE on how far hangs on nothing.
BOTH_SIDES, FAR_SIDE = 1.2, 1.6
#: What the model leaves out, share of the frequency and of Q; of both at BOTH_SIDES.
MODEL_SHARE, MODEL_SHARE_Q, MODEL_SHARE_NEAR = 0.01, 0.05, 0.05
TOO_FEW = tr_later("not determinable: too few partials of too few notes")
NO_BUMP = tr_later(
    "not determinable: no bump stands out of what the pick's release leaves of the treble"
)
RELEASE = tr_later(
    "not determinable: how the pick lets go bends the treble alike in every voice, and the voices "
    "differ too little to tell it from the pickup"
)
UNSETTLED = tr_later("not determinable: the fit did not come to rest")
_METHOD = "first moments of all voices, release in common"


@dataclass(frozen=True)
class Resonance:
    """Resonance frequency (Hz) and quality, each measured or with the reason."""

    frequency_hz: Measured
    q: Measured


def resonances_of(
    releases: Iterable[SharedRelease], outputs: Iterable[OutputKey]
) -> Mapping[OutputKey, Resonance]:
    """Read resonance and Q of every output.

    Parameters
    ----------
    releases
        What :func:`tonecompare.measure.place.shared_release.fit_shared_release` found, one of each
        guitar.
    outputs
        Stage, voice and output of every output that has a coil.

    Returns
    -------
    Mapping
        A resonance each, with the reason where it is not known.
    """
    of = {key: release for release in releases for key in release.keys}
    return {key: _one(of[key], key) if key in of else _none(TOO_FEW) for key in outputs}


def resonance_moved(
    releases: Iterable[SharedRelease], before: OutputKey, after: OutputKey
) -> tuple[FloatArray, FloatArray]:
    """Return by how much log f_r and log Q moved between two outputs, and how sure, (2,) each.

    NaN where that is not known: one of them is none of the guitar's, has no bump, lies beyond the
    partials, or what it moved by is as uncertain as no resonance may be.
    """
    open_ended = np.full(2, np.nan)
    for release in releases:
        if not {before, after} <= set(release.keys):
            continue
        if any(_why_none(release, release.keys.index(key)) for key in (before, after)):
            break
        moved, sd = release.difference(before, after)
        known = sd < np.array([LEAST_CERTAIN_ALIKE, LEAST_CERTAIN_Q])
        return np.where(known, moved, np.nan), np.where(known, sd, np.nan)
    return open_ended, open_ended


def _why_none(release: SharedRelease, v: int) -> str:
    """Why nothing is known of an output's resonance, however sure the fit is; "" if it is."""
    log_hz, log_q = release.low_pass[v]
    if not release.converged:
        return UNSETTLED
    if np.exp(log_hz) * BOTH_SIDES > release.top_hz[v]:
        top_khz = release.top_hz[v] / 1000.0
        return tr_later(
            "not determinable: it lies outside what the partials show (up to {top_khz:.1f} kHz)",
            top_khz=float(top_khz),
        )
    return NO_BUMP if log_q < LEAST_LOG_Q else ""


def _differs(release: SharedRelease, key: OutputKey) -> bool:
    """Whether some other output's resonance is another one, so that the release is known."""
    apart = [release.difference(other, key) for other in release.keys if other != key]
    if not apart:
        return False
    limit = -float(special.ndtri(0.5 * DIFFERS_P / len(apart)))
    return any(abs(moved[0]) > limit * sd[0] for moved, sd in apart)


def _one(release: SharedRelease, key: OutputKey) -> Resonance:
    v = release.keys.index(key)
    resonance_hz, q = (float(value) for value in np.exp(release.low_pass[v]))
    reach = release.top_hz[v] / resonance_hz
    near = np.clip((FAR_SIDE - reach) / (FAR_SIDE - BOTH_SIDES), 0.0, 1.0)
    left_out = np.hypot([MODEL_SHARE, MODEL_SHARE_Q], near * MODEL_SHARE_NEAR)
    sd_r, sd_q = (float(sd) for sd in np.hypot(release.sd(key), left_out))
    if reason := _why_none(release, v):
        return _none(reason)
    if sd_r > (LEAST_CERTAIN if _differs(release, key) else LEAST_CERTAIN_ALIKE):
        return _none(RELEASE)
    frequency = Measured(resonance_hz, "Hz", resonance_hz * sd_r, method=_METHOD)
    if sd_q > LEAST_CERTAIN_Q:
        open_q = unmeasured("1", tr_later("not determinable: the height of the bump is open"))
        return Resonance(frequency, open_q)
    return Resonance(frequency, Measured(q, "1", q * sd_q, method=_METHOD))


def _none(reason: str) -> Resonance:
    return Resonance(unmeasured("Hz", reason), unmeasured("1", reason))
