"""Plain damped partials with exact levels: truth for accuracy tests without any string physics.

A tone is Σ_n A_n exp(−σ_n t) cos(2πf_n t + φ_n) from ``onset_s`` on, zero before; the default phase
−π/2 makes every partial start at zero. Mains lines and hiss have exactly the stated RMS.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.exponentials import release_gain, released_exponentials, sum_exponentials
from tonecompare.strings.instruments import note_name
from tonecompare.strings.model import QUIET_CHANNEL, NoiseSpec
from tonecompare.strings.noise import render_noise
from tonecompare.strings.recording import BITS, Rendered, round_to_subtype
from tonecompare.strings.stating import channel_truth, crossing
from tonecompare.strings.truth import OutputTruth, PluckTruth, RecordingTruth
from tonecompare.units import amplitude_to_db, mean_square_to_dbfs, t60_to_decay_rate


@dataclass(frozen=True)
class Tone:
    """Partials that start together.

    Parameters
    ----------
    onset_s
        Seconds from the start of the recording.
    hz, amplitude, t60_s
        Per partial: frequency, peak sample value at the onset, T60 = 3 ln 10/σ.
    phase_rad
        Per partial, or one for all.
    rise_ms
        0 = starts at once; above: raised-cosine weight of this length (amplitudes then refer to
        the ringing part, extrapolated back to the onset with the weight's gain).
    end_s
        Cut to zero there (hard); None = rings to the end.
    """

    onset_s: float
    hz: Sequence[float]
    amplitude: Sequence[float]
    t60_s: Sequence[float]
    phase_rad: Sequence[float] | float = -np.pi / 2
    rise_ms: float = 0.0
    end_s: float | None = None


def render_partials(
    tones: Sequence[Tone],
    *,
    rng: np.random.Generator,
    rate_hz: float = 48000.0,
    length_s: float | None = None,
    noise: NoiseSpec = QUIET_CHANNEL,
    subtype: str = "FLOAT",
    voice: str = "ideal",
) -> Rendered:
    """Render tones on one channel with noise; partials at or above half the rate are refused.

    Returns
    -------
    rendered
        As :func:`tonecompare.strings.render_recording` gives, with one polarisation (the second
        has amplitude 0) and ``output`` "magnetic".

    Raises
    ------
    InputError
        Unequal numbers of frequencies, amplitudes and T60s, or a partial beyond half the rate.
    """
    ordered = sorted(tones, key=lambda tone: tone.onset_s)
    if length_s is None:
        length_s = (ordered[-1].onset_s if ordered else 0.0) + 3.0
    n = round(length_s * rate_hz)
    samples = np.zeros(n)
    truths = []
    for number, tone in enumerate(ordered, start=1):
        alone, tone_truth = _render_tone(tone, number, n=n, rate_hz=rate_hz)
        samples += alone
        truths.append(tone_truth)
    samples += render_noise(noise, n=n, rate_hz=rate_hz, rng=rng)
    truth = RecordingTruth(
        voice=voice,
        rate_hz=rate_hz,
        quiet_s=truths[0].onset_s if truths else length_s,
        channels=(channel_truth(None, noise, rate_hz, BITS[subtype]),),
        plucks=tuple(truths),
    )
    return Rendered(round_to_subtype(samples[None, :], subtype), rate_hz, subtype, truth)


def _render_tone(
    tone: Tone, number: int, *, n: int, rate_hz: float
) -> tuple[FloatArray, PluckTruth]:
    hz, amplitude, t60 = (np.asarray(x, float) for x in (tone.hz, tone.amplitude, tone.t60_s))
    if not hz.size == amplitude.size == t60.size or hz.size == 0:
        raise InputError(
            f"{hz.size} frequencies, {amplitude.size} amplitudes, {t60.size} T60s: must be equal"
            " and at least one."
        )
    if np.any(hz >= rate_hz / 2):
        raise InputError(f"hz={hz.max():.1f}: must lie below half of rate_hz={rate_hz:.0f}.")
    sigma = np.asarray(t60_to_decay_rate(t60))
    rates = -sigma + 2j * np.pi * hz
    drive = amplitude * np.exp(1j * np.broadcast_to(tone.phase_rad, hz.shape))
    alone = _sample(tone, rates, drive, n=n, rate_hz=rate_hz)
    end_s = n / rate_hz if tone.end_s is None else tone.end_s
    alone[round(end_s * rate_hz) :] = 0.0
    if tone.rise_ms > 0:
        drive = drive * release_gain(rates, tone.rise_ms / 1000)
    window = slice(*(round((tone.onset_s + t) * rate_hz) for t in (0.05, 0.55)))
    output = OutputTruth(
        output="magnetic",
        onset_s=tone.onset_s,
        motion_s=crossing(np.abs(alone[: round((tone.onset_s + 0.02) * rate_hz)]), 0.01) / rate_hz,
        level_dbfs=float(mean_square_to_dbfs(np.mean(alone[window] ** 2))),
        peak_dbfs=float(amplitude_to_db(np.max(np.abs(alone)))),
        time_s=tone.onset_s,
        partial_hz=np.stack((hz, hz), axis=1),
        amplitude=np.stack((drive, np.zeros_like(drive)), axis=1),
        sigma_per_s=np.stack((sigma, sigma), axis=1),
    )
    return alone, PluckTruth(
        number=number,
        time_s=tone.onset_s,
        string=0,
        fret=0,
        note=note_name(float(hz[0])),
        position_mm=float("nan"),
        pluck_point=float("nan"),
        length_mm=float("nan"),
        inharmonicity=float("nan"),
        end_s=end_s,
        ended_by="file-end" if tone.end_s is None else "damped",
        outputs=(output,),
    )


def _sample(
    tone: Tone,
    rates: NDArray[np.complex128],
    drive: NDArray[np.complex128],
    *,
    n: int,
    rate_hz: float,
) -> FloatArray:
    if tone.rise_ms > 0:
        return released_exponentials(
            rates,
            drive,
            release_s=tone.rise_ms / 1000,
            start_s=tone.onset_s,
            rate_hz=rate_hz,
            n=n,
        )
    first = int(np.ceil(tone.onset_s * rate_hz))
    alone = np.zeros(n)
    alone[first:] = sum_exponentials(
        rates, drive, first_s=first / rate_hz - tone.onset_s, rate_hz=rate_hz, n=n - first
    )
    return alone
