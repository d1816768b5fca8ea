"""Voices of the physical string model as partial levels, without audio: many in a short time.

Levels come from the modes of ``tonecompare.strings`` (two polarisations, release, pick width, coil
aperture, one coil or two unequal ones, loaded circuit); the scatter of a measured level is that of
a damped sinusoid in white noise, sd = sqrt(4 sigma N / A²) of the log amplitude (N mean square per
hertz), which the audio grid agrees with above 40 dB; 0.03 dB is added for what fits leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.measure.place.pick_and_pickup import PluckAmplitudes
from tonecompare.strings.exponentials import release_gain
from tonecompare.strings.model import Circuit, Coil, Magnetic, PluckSpec
from tonecompare.strings.modes import coil_comb, string_modes, velocity_drive
from tonecompare.strings.pickups.filters import circuit_filter, resonance

SCALE_MM = 648.0
LEVEL_DBFS = -15.0
KINDS = ("single", "humbucker", "split")
#: The six open strings four times, and every string at three frets.
OPEN_NOTES = tuple((string, 0) for string in range(6, 0, -1)) * 4
FRETTED_NOTES = tuple((string, fret) for string in range(6, 0, -1) for fret in (0, 5, 12))


@dataclass(frozen=True)
class VoiceTruth:
    """Plucks of one voice and what they truly are; lengths in mm, picks from the nearer end."""

    plucks: list[PluckAmplitudes]
    pick_mm: FloatArray
    length_mm: FloatArray
    pickup_mm: float
    spacing_mm: float
    resonance_hz: float
    q: float


def _pickup(rng: np.random.Generator, kind: str) -> tuple[Magnetic, float, float]:
    """Return a pickup anywhere in its range, its place and its coil spacing."""
    place, aperture = float(rng.uniform(35.0, 170.0)), float(rng.uniform(8.0, 20.0))
    coil_f, cable_f = float(rng.uniform(80e-12, 200e-12)), float(rng.uniform(100e-12, 900e-12))
    if kind == "single":
        circuit = Circuit(
            float(rng.uniform(2.0, 3.5)), float(rng.uniform(5e3, 8e3)), coil_f,
            float(rng.uniform(60e3, 200e3)), cable_f,
        )  # fmt: skip
        return Magnetic((Coil(place, aperture),), circuit), place, 0.0
    circuit = Circuit(
        float(rng.uniform(3.5, 6.0)), float(rng.uniform(7e3, 14e3)), coil_f,
        float(rng.uniform(80e3, 250e3)), cable_f,
    )  # fmt: skip
    spacing, mismatch = float(rng.uniform(12.0, 22.0)), float(rng.uniform(-0.1, 0.1))
    coils = tuple(
        Coil(place + side * spacing / 2.0, aperture, 0.5 * (1.0 + side * mismatch / 2.0), -side)
        for side in (-1.0, 1.0)
    )
    whole = Magnetic(coils, circuit)
    if kind == "humbucker":
        return whole, place, spacing
    one = st.split_coil(whole, coil="far" if rng.random() < 0.5 else "near")
    return one, one.coils[0].distance_mm, 0.0


def voice_of(
    rng: np.random.Generator,
    kind: str,
    snr_db: float,
    notes: Sequence[tuple[int, int]] = OPEN_NOTES,
    *,
    pick_spread_mm: float = 3.0,
) -> VoiceTruth:
    """Draw a voice: pickup, circuit, pick, release and hand anywhere in their ranges."""
    magnetic, place, spacing = _pickup(rng, kind)
    aim = float(rng.uniform(60.0, 200.0))
    release_ms, width_mm = float(rng.uniform(0.08, 0.3)), float(rng.uniform(2.0, 6.0))
    angle = float(rng.uniform(10.0, 45.0))
    plucks, picks, lengths = [], [], []
    for string, fret in notes:
        length = SCALE_MM * 2.0 ** (-fret / 12.0)
        x = float(np.clip(aim + rng.normal(0.0, pick_spread_mm), 30.0, 0.95 * length))
        spec = PluckSpec(
            0.0, string, fret, position_mm=x, width_mm=width_mm,
            release_ms=release_ms * float(np.exp(0.25 * rng.standard_normal())),
            angle_deg=angle + 5.0 * float(rng.standard_normal()),
            detune_cents=3.0 * float(rng.standard_normal()),
        )  # fmt: skip
        plucks.append(_amplitudes(magnetic, spec, snr_db, length, rng))
        picks.append(min(x, length - x))
        lengths.append(length)
    hz, q = resonance(magnetic.circuit)
    return VoiceTruth(plucks, np.array(picks), np.array(lengths), place, spacing, hz, q)


def _amplitudes(
    magnetic: Magnetic, spec: PluckSpec, snr_db: float, length_mm: float, rng: np.random.Generator
) -> PluckAmplitudes:
    _, modes = string_modes(st.standard_instrument(), spec, rate_hz=48000.0)
    comb = sum(coil.sensitivity * coil_comb(modes, coil) for coil in magnetic.coils)
    polarisation = np.array([1.0, magnetic.second_polarisation])
    drive = velocity_drive(modes) * np.asarray(comb)[:, None] * polarisation
    drive = drive * circuit_filter(magnetic.circuit).response(modes.rates)
    drive *= release_gain(modes.rates.ravel(), spec.release_ms / 1e3).reshape(drive.shape)
    sigma = -modes.rates.real[:, 0]
    amplitude = np.sqrt(np.sum(np.abs(drive) ** 2, axis=1))
    # Level over 0.05 … 0.55 s set to LEVEL_DBFS.
    energy = amplitude**2 / 2.0 * (np.exp(-0.1 * sigma) - np.exp(-1.1 * sigma)) / (2.0 * sigma)
    amplitude *= np.sqrt(0.5 * 10.0 ** (LEVEL_DBFS / 10.0) / (energy.sum() / 0.5))
    amplitude, sigma = amplitude[:24], sigma[:24]
    density = 0.5 * 10.0 ** ((LEVEL_DBFS - snr_db) / 10.0) / 2e4
    log_sd = np.sqrt(4.0 * sigma * density) / amplitude
    noise = log_sd * (rng.standard_normal(log_sd.size) + 1j * rng.standard_normal(log_sd.size))
    level, sd, hz = (np.full(24, np.nan) for _ in range(3))
    n = log_sd.size
    level[:n] = 20.0 * np.log10(np.abs(amplitude * (1.0 + noise))) + 0.03 * rng.standard_normal(n)
    sd[:n] = 20.0 / np.log(10.0) * log_sd / np.abs(1.0 + noise)
    hz[:n] = modes.rates.imag[:24, 0] / (2.0 * np.pi)
    level[sd > 3.0] = np.nan
    return PluckAmplitudes(level, sd, hz, length_mm / SCALE_MM)


def low_pass_db(frequency_hz: np.ndarray, resonance_hz: float, q: float) -> np.ndarray:
    """Level of a second-order low-pass, dB re 0 Hz: 20 lg |1/(1 - (f/f_r)² + i f/(Q f_r))|."""
    ratio = frequency_hz / resonance_hz
    return np.asarray(-20.0 * np.log10(np.abs(1.0 - ratio**2 + 1j * ratio / q)))
