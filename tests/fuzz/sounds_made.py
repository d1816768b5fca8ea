"""Sound files from a generator of random numbers: real takes, hostile samples, broken bytes."""

from __future__ import annotations

import io
import warnings

import numpy as np
import soundfile as sf
from small_takes import take

_RATES = (1, 3999, 4000, 8000, 22_050, 44_100, 48_000, 96_000, 192_000, 655_360, 768_000, 2**31 - 1)
_TAKEN_AT = (4000, 8000, 11_025, 22_050, 44_100, 44_100, 48_000, 96_000)
_SUBTYPES = ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ALAW", "ULAW")
_WHOLE = ("PCM_16", "PCM_24", "FLOAT", "DOUBLE")


def _samples(rng: np.random.Generator) -> np.ndarray:
    n, channels = int(rng.choice([0, 1, 100, 5000, 20_000])), int(rng.choice([1, 1, 2, 2, 3, 8]))
    kind = rng.integers(7)
    size = 10.0 ** rng.uniform(-9, 3) if kind < 4 else rng.choice([1e20, 3e38, 1e-300, 1.0])
    found = size * rng.standard_normal((n, channels))
    if kind == 1:
        found[:] = size
    if kind == 2 and n:
        found[rng.integers(n)] = rng.choice([np.nan, np.inf, -np.inf])
    return found


def any_sound(rng: np.random.Generator) -> bytes:
    """Return a sound file, whole, cut, overwritten in places, or not one at all."""
    if rng.random() < 0.1:
        return rng.bytes(int(rng.integers(2000)))
    if rng.random() < 0.15:
        return spoilt(real_take(rng), rng)
    kind, data = str(rng.choice(["WAV", "FLAC", "AIFF", "CAF", "RF64", "OGG"])), io.BytesIO()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if kind == "OGG":  # the encoder itself dies of odd rates and numbers
                sf.write(data, 0.1 * np.sin(np.arange(9000.0)), 44_100, format="OGG")
            else:
                coding, found = str(rng.choice(_SUBTYPES)), _samples(rng)
                if coding.endswith("LAW"):  # the writer dies of numbers beyond full scale
                    found = np.clip(np.nan_to_num(found), -1.0, 1.0)
                sf.write(data, found, int(rng.choice(_RATES)), format=kind, subtype=coding)
    except (sf.LibsndfileError, ValueError, TypeError, OverflowError, AssertionError):
        data = io.BytesIO()  # what a writer that died left in the other would spoil this one
        sf.write(data, 0.1 * rng.standard_normal((5000, 1)), 44_100, format="WAV")
    return spoilt(data.getvalue(), rng)


def spoilt(whole: bytes, rng: np.random.Generator) -> bytes:
    """Return a file as it is, cut off, or with single bytes overwritten, mostly in its header."""
    content = bytearray(whole)
    if rng.random() < 0.3 and content:
        del content[int(rng.integers(len(content))) :]
    for _ in range(int(rng.choice([0, 0, 1, 8]))):
        if content:
            head = min(len(content), 64) if rng.random() < 0.7 else len(content)
            content[int(rng.integers(head))] = int(rng.integers(256))
    return bytes(content)


def real_take(rng: np.random.Generator) -> bytes:
    """Return a small take: some quiet, a few plucks, and now and then what takes suffer from."""
    rate_hz = int(rng.choice(_TAKEN_AT))
    samples = take(
        notes=tuple(str(note) for note in rng.choice(["E2", "A2", "D3"], int(rng.integers(1, 3)))),
        repeats=int(rng.choice([0, 1, 1, 2, 3])),
        gain=10.0 ** rng.uniform(-3.0, 0.0),
        t60_s=10.0 ** rng.uniform(-1.0, 1.0),
        slope=float(rng.uniform(0.0, 3.0)),
        hum=10.0 ** rng.uniform(-6.0, -1.5),
        hiss=float(rng.choice([0.0, 1e-6, 1e-4, 1e-2])),
        quiet_s=float(rng.choice([0.0, 0.3, 1.0, 2.0])),
        rate_hz=rate_hz,
        seed=int(rng.integers(1 << 30)),
    )
    samples = _suffering(samples, rng)
    if rng.random() < 0.3 and np.isfinite(samples).all():
        second = rng.choice([-1.0, 0.0, 1e-6, 0.5]) * np.roll(samples, int(rng.integers(0, 3000)))
        samples = np.stack([samples, second], axis=1)
    data = io.BytesIO()
    kind = str(rng.choice(["WAV", "WAV", "FLAC", "AIFF"]))
    coding = "PCM_16" if kind == "FLAC" else str(rng.choice(_WHOLE))
    if coding.startswith("PCM"):
        samples = np.clip(np.nan_to_num(samples), -1.0, 1.0)
    sf.write(data, samples, rate_hz, format=kind, subtype=coding)
    return data.getvalue()


def _suffering(samples: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return samples with one of the faults that recordings have, mostly with none."""
    kind, at = int(rng.integers(20)), int(rng.integers(max(1, samples.size)))
    if not samples.size:
        return samples
    if kind == 0:
        return samples + rng.choice([-1.0, 0.3, 5.0])
    if kind == 1:
        return samples * rng.choice([1e-7, 1e3, 1e9, 1e20])
    if kind == 2:
        samples[at] = rng.choice([np.nan, np.inf, 1.0, -1.0, 1e6])
    if kind == 3:
        samples[at:] = 0.0
    if kind == 4:
        return np.clip(samples * 30.0, -1.0, 1.0)
    if kind == 5:
        return samples[:at]
    if kind == 6:
        return samples[::-1].copy()
    if kind == 7:
        samples[at : at + 2000] = samples[at]
    if kind == 8:
        return np.sign(samples) * 0.5
    return samples
