"""Whole recordings: quiet, then plucks that ring, are damped or are plucked over, with noise.

Causality. A coil's signal is zero until the wave front, which runs at c = 2Lf, arrives from the
edge of the pick; ``onset_s`` is that instant. Bending stiffness lets the highest partials arrive a
little earlier and the release makes the front rise over its 0.1–0.2 ms, so the noiseless signal
passes 1 % of its first peak near, not at, that instant: ``motion_s``. tests/strings measures the
distance between the two.

Clipping acts on the sum of a sensor's plucks (noise joins after it). A scrape is in the samples,
not in the pluck's truth, which is that of the note.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.attack.pick_slip import slip_velocity, wave_velocity_m_per_s
from tonecompare.strings.attack.pitch_glide import first_sharpness, glided
from tonecompare.strings.exponentials import released_exponentials
from tonecompare.strings.model import (
    QUIET_CHANNEL,
    InstrumentSpec,
    NoiseSpec,
    PluckSpec,
    Slip,
    VoiceSpec,
)
from tonecompare.strings.modes import Modes, string_modes
from tonecompare.strings.noise import render_noise
from tonecompare.strings.pickups.distance_law import bent_voltage
from tonecompare.strings.pickups.filters import filtered
from tonecompare.strings.pickups.sensors import Path as SensorPath
from tonecompare.strings.pickups.sensors import channel_paths
from tonecompare.strings.stating import channel_truth, output_truth, pluck_truth
from tonecompare.strings.truth import PluckTruth, RecordingTruth

#: The pick rests on a ringing string this long before it lets go, and stops it within _STOP_S.
CONTACT_S = 0.020
_STOP_S = 0.006
#: What is left of a scrape so long after the release is below −170 dB of it.
_SCRAPE_ENDS_S = 0.02
BITS = {"PCM_16": 16, "PCM_24": 24, "FLOAT": None}


@dataclass(frozen=True)
class Rendered:
    """A rendered recording: ``samples`` (channels, n) float64 and what it truly holds."""

    samples: FloatArray
    rate_hz: float
    subtype: str
    truth: RecordingTruth

    def write(self, path: Path) -> None:
        """Write as WAV or FLAC (by the suffix) in the rendered subtype."""
        import soundfile

        values: NDArray[np.int32] | FloatArray = self.samples.T
        if self.subtype != "FLOAT":
            values = np.round(self.samples.T * 2.0**31).clip(-(2.0**31), 2.0**31 - 1)
            values = values.astype(np.int32)
        packed = io.BytesIO()  # a full disk is told of by the system, not by the encoder
        kind = path.suffix[1:].upper()
        soundfile.write(packed, values, int(self.rate_hz), format=kind, subtype=self.subtype)
        path.write_bytes(packed.getvalue())


def render_recording(
    instrument: InstrumentSpec,
    voice: VoiceSpec,
    plucks: Sequence[PluckSpec],
    *,
    rng: np.random.Generator,
    rate_hz: float = 48000.0,
    length_s: float | None = None,
    noise: Sequence[NoiseSpec] | NoiseSpec = QUIET_CHANNEL,
    subtype: str = "PCM_24",
) -> Rendered:
    """Render plucks of one voice, with noise, rounded to ``subtype``.

    Parameters
    ----------
    instrument, voice, plucks
        What is played; plucks in any order of time.
    rng
        Draws the scrapes and the noise (the plucks are taken as given: see
        :mod:`tonecompare.strings.player`).
    rate_hz, length_s
        Sampling; the length is 3 s after the last pluck when left out.
    noise
        One for all channels or one each.
    subtype
        "PCM_16", "PCM_24" or "FLOAT" (kept as float64, nothing rounded).

    Returns
    -------
    rendered
        Samples of shape (channels, n) and the truth. The truth does not depend on the rate,
        except that partials fade out between 0.40 and 0.45 of it.

    Raises
    ------
    InputError
        Unknown subtype, string, pick position, or as many noises as channels not given.
    """
    if subtype not in BITS:
        raise InputError(f"subtype={subtype!r}: allowed are {', '.join(BITS)}.")
    noises = (noise,) * len(voice.channels) if isinstance(noise, NoiseSpec) else tuple(noise)
    if len(noises) != len(voice.channels):
        raise InputError(f"{len(noises)} noises for {len(voice.channels)} channels.")
    ordered = sorted(plucks, key=lambda pluck: pluck.time_s)
    if length_s is None:
        length_s = (ordered[-1].time_s if ordered else 0.0) + 3.0
    n = round(length_s * rate_hz)
    samples, truths = _render_plucks(instrument, voice, ordered, n=n, rate_hz=rate_hz, rng=rng)
    for row, spec in zip(samples, noises, strict=True):
        row += render_noise(spec, n=n, rate_hz=rate_hz, rng=rng)
    bits = BITS[subtype]
    samples = round_to_subtype(samples, subtype)
    truth = RecordingTruth(
        voice=voice.name,
        rate_hz=rate_hz,
        quiet_s=truths[0].onset_s if truths else length_s,
        channels=tuple(
            channel_truth(channel, spec, rate_hz, bits)
            for channel, spec in zip(voice.channels, noises, strict=True)
        ),
        plucks=tuple(truths),
    )
    return Rendered(samples, rate_hz, subtype, truth)


def round_to_subtype(samples: FloatArray, subtype: str) -> FloatArray:
    """Round and clip samples to what the subtype can hold."""
    bits = BITS[subtype]
    if bits is None:
        return samples
    step = 2.0 ** (1 - bits)
    return np.asarray(np.clip(np.round(samples / step) * step, -1.0, 1.0 - step))


def _render_plucks(
    instrument: InstrumentSpec,
    voice: VoiceSpec,
    plucks: list[PluckSpec],
    *,
    n: int,
    rate_hz: float,
    rng: np.random.Generator,
) -> tuple[FloatArray, list[PluckTruth]]:
    # One buffer a sensor, so that a preamp can clip on the sum of its strings.
    buffers: dict[tuple[int, int], FloatArray] = {}
    wiring: dict[tuple[int, int], SensorPath] = {}
    truths = []
    for number, pluck in enumerate(plucks, start=1):
        string, modes = string_modes(instrument, pluck, rate_hz=rate_hz)
        end_s, ended_by = _end(pluck, plucks[number:], n / rate_hz)
        # The pick only shares the string with what rang on it before; other strings ring on.
        first = max(int(pluck.time_s * rate_hz), 0)
        last = min(n, int((end_s + _fade_s(pluck, ended_by)) * rate_hz))
        outputs = []
        for c, channel in enumerate(voice.channels):
            paths = channel_paths(channel, string, modes, pluck)
            alone = np.zeros(last - first)
            for i, path in enumerate(paths):
                piece = _ring(path, pluck, first=first, n=last - first, rate_hz=rate_hz)
                if string.stretch:
                    piece = glided(
                        piece,
                        sharpness=first_sharpness(string, pluck, modes),
                        sigma_per_s=-float(modes.rates[0, 0].real),
                        start_s=pluck.time_s + path.delay_s - first / rate_hz,
                        rate_hz=rate_hz,
                    )
                piece *= _damping(pluck, end_s, ended_by, first, last - first, rate_hz)
                buffer = buffers.setdefault((c, i), np.zeros(n))
                buffer[first:last] += piece
                if pluck.slip is not None:
                    _scrape(buffer, path, pluck.slip, pluck, modes, rate_hz=rate_hz, rng=rng)
                wiring[c, i] = path
                alone += path.gain * piece
            start_s = first / rate_hz
            outputs.append(output_truth(channel, paths, modes, pluck, alone, start_s, rate_hz))
        truths.append(pluck_truth(instrument, number, pluck, modes, end_s, ended_by, outputs))
    samples = np.zeros((len(voice.channels), n))
    for (c, i), buffer in buffers.items():
        path = wiring[c, i]
        signal = buffer if path.clip is None else np.clip(buffer, -path.clip, path.clip)
        samples[c] += path.gain * signal
    return samples, truths


def _end(pluck: PluckSpec, later: list[PluckSpec], length_s: float) -> tuple[float, str]:
    end_s, ended_by = length_s, "file-end"
    if pluck.damp_s is not None and pluck.time_s + pluck.damp_s < end_s:
        end_s, ended_by = pluck.time_s + pluck.damp_s, "damped"
    for other in later:
        if other.string == pluck.string and other.time_s - CONTACT_S < end_s:
            return other.time_s - CONTACT_S, "next-pluck"
    return end_s, ended_by


def _ring(path: SensorPath, pluck: PluckSpec, *, first: int, n: int, rate_hz: float) -> FloatArray:
    if path.bent:
        voltage = sum(
            (bent_voltage(coil, pluck, first=first, n=n, rate_hz=rate_hz) for coil in path.bent),
            np.zeros(n),
        )
        return filtered(voltage, path.filter, rate_hz=rate_hz)
    return released_exponentials(
        path.rates,
        path.amplitudes,
        release_s=pluck.release_ms / 1000,
        start_s=pluck.time_s + path.delay_s - first / rate_hz,
        rate_hz=rate_hz,
        n=n,
    )


def _scrape(
    buffer: FloatArray,
    path: SensorPath,
    slip: Slip,
    pluck: PluckSpec,
    modes: Modes,
    *,
    rate_hz: float,
    rng: np.random.Generator,
) -> None:
    """Add a pick's scrape to a sensor's buffer, in place."""
    arrives_s = pluck.time_s + path.arrival_s + path.delay_s
    first = max(int((arrives_s - slip.length_ms / 1000) * rate_hz) - 1, 0)
    last = min(int((arrives_s + _SCRAPE_ENDS_S) * rate_hz), buffer.size)
    velocity = slip_velocity(
        slip,
        wave_m_per_s=wave_velocity_m_per_s(pluck, modes),
        release_s=arrives_s - first / rate_hz,
        n=last - first,
        rate_hz=rate_hz,
        rng=rng,
    )
    buffer[first:last] += filtered(path.per_velocity * velocity, path.filter, rate_hz=rate_hz)


def _fade_s(pluck: PluckSpec, ended_by: str) -> float:
    """Seconds after which nothing is left of a stopped string (20 nepers = 174 dB)."""
    return {"next-pluck": _STOP_S, "damped": 0.01 + 20.0 / pluck.damp_per_s}.get(ended_by, 1.0)


def _damping(
    pluck: PluckSpec, end_s: float, ended_by: str, first: int, n: int, rate_hz: float
) -> FloatArray:
    t = (first + np.arange(n)) / rate_hz - end_s
    if ended_by == "next-pluck":
        return np.asarray(0.5 * (1 + np.cos(np.pi * np.clip(t / _STOP_S, 0, 1))))
    if ended_by == "damped":
        # The hand presses on over 10 ms: the added decay rate grows linearly, then stays.
        late = np.clip(t, 0, None)
        lost = np.where(late < 0.01, late**2 / 0.02, late - 0.005)
        return np.asarray(np.exp(-pluck.damp_per_s * lost))
    return np.ones(n)
