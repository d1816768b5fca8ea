"""Every quantity of a pluck against its truth, for the audit of stated uncertainties.

Truth comes from two places, never from the code that measures:

* closed forms of the model's parameters (:class:`tonecompare.strings.truth.OutputTruth`): f0,
  partial levels and what follows from them (odd over even, tristimulus, tilt), all decays,
  inharmonicity, picking point;
* the noise-free samples by plain sums: level, peak, attack, centroid (librosa), onset (where they
  first pass 1 % of the first peak).

A partial the definition counts (1 to 24) counts in the truth whether or not it was measured.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from accuracy_errors import (
    Error,
    Seen,
    centroid_truth,
    error_of,
    f0_truth,
    partial_decay_truth,
    pick_truth,
    seen,
)
from accuracy_takes import CleanTake, NoisyTake
from coverage_quiets import a_weighted_dbfs

from tonecompare.measure.quiet.signal_to_hum import with_signal_to_hum
from tonecompare.strings.truth import OutputTruth, PluckTruth

#: Equal temperament from A4 = 440 Hz (ISO 16): semitones of C … B above the octave's C.
_SEMITONES = {"C": 0, "C#": 1, "D": 2, "D#": 3, "E": 4, "F": 5, "F#": 6, "G": 7, "G#": 8, "A": 9,
              "A#": 10, "B": 11}  # fmt: skip


def equal_tempered_hz(note: str) -> float:
    """Frequency of a note name ("E2"), A4 = 440 Hz."""
    number = 12 * (int(note[-1]) + 1) + _SEMITONES[note[:-1]]
    return float(440.0 * 2.0 ** ((number - 69) / 12.0))


def level_truth_dbfs(clean: CleanTake, pluck: PluckTruth) -> float:
    """RMS of the noise-free samples over 0.05–0.55 s from the start of motion (AES17)."""
    rate_hz, start_s = clean.layout.rate_hz, pluck.outputs[0].motion_s
    first, last = (round((start_s + t) * rate_hz) for t in (0.05, 0.55))
    return float(10.0 * np.log10(2.0 * np.mean(clean.samples[first:last] ** 2)))


def attack_truth_ms(clean: CleanTake, pluck: PluckTruth) -> float:
    """Energy centre of the noise-free samples over 50 ms from the start of motion, plain sums."""
    rate_hz, start_s = clean.layout.rate_hz, pluck.outputs[0].motion_s
    first = int(np.ceil(start_s * rate_hz))
    last = int(np.ceil((start_s + 0.05) * rate_hz))
    square = clean.samples[first:last] ** 2
    time_s = np.arange(first, last) / rate_hz - start_s
    return float(1e3 * np.sum(square * time_s) / np.sum(square))


def balance_truth(output: OutputTruth) -> dict[str, float]:
    """Levels of partials 1 … 24, odd over even, tristimulus (Pollard & Jansson 1982), tilt."""
    power = output.partial_mean_square()[:24]
    n = np.arange(1, power.size + 1)
    out = {f"h{k:02d}_db": 10.0 * np.log10(p / power.sum()) for k, p in zip(n, power, strict=True)}
    out["odd_even_db"] = 10.0 * np.log10(power[n % 2 == 1].sum() / power[n % 2 == 0].sum())
    a = np.sqrt(power)
    parts = (a[:1], a[1:4], a[4:])
    for k, part in enumerate(parts, start=1):
        out[f"tristimulus_{k}"] = part.sum() / a.sum()
    # Slope over octaves of the level: weights 1/n, so that each octave counts alike, and half for
    # a partial 35 dB below the strongest (the definition in README).
    root = np.sqrt(power / (power + 10.0**-3.5 * power.max()) / n)
    design = np.stack([np.ones(n.size), np.log2(n)], axis=1) * root[:, None]
    slope = np.linalg.lstsq(design, 10.0 * np.log10(power) * root, rcond=None)[0][1]
    out["tilt_db_per_octave"] = float(slope)
    return {name: float(value) for name, value in out.items()}


def inharmonicity_truth(output: OutputTruth) -> float:
    """B from the model's own partials 1 and 2: (f2/2f1)² = (1 + 4 B)/(1 + B)."""
    hz = output.partial_hz[:2, 0]
    ratio = float((hz[1] / (2.0 * hz[0])) ** 2)
    return (ratio - 1.0) / (4.0 - ratio)


def pluck_truths(clean: CleanTake, pluck: PluckTruth, noise_power: float) -> dict[str, float]:
    """Column -> truth, for every column of measurements.csv that has one."""
    output = pluck.outputs[0]
    f0_hz = f0_truth(output)
    level_dbfs = level_truth_dbfs(clean, pluck)
    out = {
        "onset_s": output.motion_s,
        "f0_hz": f0_hz,
        "cents": 1200.0 * float(np.log2(f0_hz / equal_tempered_hz(pluck.note))),
        "level_dbfs": level_dbfs,
        "peak_dbfs": output.peak_dbfs,
        "snr_db": level_dbfs - 10.0 * float(np.log10(2.0 * noise_power)),
        "attack_ms": attack_truth_ms(clean, pluck),
        "centroid_hz": centroid_truth(clean, pluck),
        "decay_s": output.decay_s(-5.0, -25.0),
        "decay_early_s": output.decay_s(0.0, -10.0),
        "decay_late_s": output.decay_s(-25.0, -45.0),
        "inharmonicity": inharmonicity_truth(output),
        "pluck_point": pick_truth(pluck),
    }
    out |= balance_truth(output)
    for index in range(min(12, output.partial_hz.shape[0])):
        out[f"decay_h{index + 1:02d}_s"] = partial_decay_truth(output, index)
    return out


def take_errors(noisy: NoisyTake, folder: Path) -> list[Error]:
    """Every quantity of every pluck, quiet and voice of one take against its truth."""
    take = seen(noisy, folder)
    if take is None:
        return []
    noise = noisy.noise
    rate_hz = noisy.clean.layout.rate_hz
    band_hz = min(20000.0, rate_hz / 2.0) - 20.0
    hiss = 0.5 * 10.0 ** (noise.hiss_dbfs / 10.0)
    lines = 0.5 * 10.0 ** (np.array(noise.line_dbfs) / 10.0)
    # White hiss: what stands outside 20 Hz … 20 kHz belongs to the quiet's power too.
    noise_power = hiss * (rate_hz / 2.0) / band_hz + float(lines.sum())
    out: list[Error] = []
    for truth in noisy.clean.plucks:
        row = take.rows.get(truth.number)
        if row is None:
            continue
        where = f"s{truth.string} f{truth.fret} pick {truth.position_mm:.0f}"
        for name, value in pluck_truths(noisy.clean, truth, noise_power).items():
            out.append(error_of(noisy, name, row, name, value, where=where))
    return out + _quiet_errors(noisy, take, hiss / band_hz) + _voice_errors(noisy, take)


def _quiet_errors(noisy: NoisyTake, take: Seen, density: float) -> list[Error]:
    if not take.result.quiets:
        return []
    quiets = with_signal_to_hum(take.result.plucks, take.result.quiets)
    row = max(quiets, key=lambda quiet: float(str(quiet.value("length_s"))))
    noise = noisy.noise
    truth = {"mains_hz": noise.mains_hz, "hum_dbfs": noise.hum_dbfs, "hiss_dbfs": noise.hiss_dbfs}
    truth |= {f"hum_{k:02d}_dbfs": noise.line_dbfs[k - 1] for k in range(1, 11)}
    line_hz = noise.mains_hz * np.arange(1, len(noise.line_dbfs) + 1)
    truth["noise_a_dbfs"] = a_weighted_dbfs(
        line_hz, np.array(noise.line_dbfs), density, noisy.clean.layout.rate_hz
    )
    levels = [level_truth_dbfs(noisy.clean, pluck) for pluck in noisy.clean.plucks]
    truth["signal_to_hum_db"] = float(np.median(levels)) - noise.hum_dbfs
    return [error_of(noisy, name, row, name, value, where="quiet") for name, value in truth.items()]


def _voice_errors(noisy: NoisyTake, take: Seen) -> list[Error]:
    pickup_mm = noisy.clean.layout.pickup_mm
    name = "pickup_distance_mm"
    return [error_of(noisy, name, take.voice, name, pickup_mm, where="voice")]
