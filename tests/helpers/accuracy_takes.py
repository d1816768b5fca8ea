"""Synthetic takes over a wide grid, each with its truth, for the accuracy tables.

Two kinds. "ideal": sums of single damped partials (closed-form levels, decay, frequencies), their
amplitudes following the pick's and the pickup's comb. "plucked": the physical string model with
two polarisations, release, coil aperture and circuit. The noise is added to one noiseless render,
so that the same plucks are seen at several signal-to-noise ratios.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.strings.recording import round_to_subtype
from tonecompare.strings.truth import ChannelTruth, PluckTruth

SCALE_MM = 648.0
LEVEL_DBFS = -15.0
HUM_DBFS = -60.0
QUIET_S = 2.3
SPACING_S = 5.2
FRETS = (0, 5, 12)
#: (string, fret) of a whole take and of a quick one.
ALL_NOTES = tuple((string, fret) for string in range(6, 0, -1) for fret in FRETS)
#: (rate, bits) in turn over the takes.
FORMATS = ((44100.0, 16), (48000.0, 24), (96000.0, 16), (44100.0, 24), (48000.0, 16), (96000.0, 24))
#: Pickup distances from the bridge, mm, and where the pick aims; each over its range.
PICKUPS_MM = (45.0, 150.0, 90.0, 120.0, 65.0, 105.0)
PICKS_MM = (130.0, 80.0, 170.0, 100.0, 200.0, 115.0)
#: A2 partial 5 = 550.00 Hz is line 11 at 50.00 Hz (check-values section 8).
MAINS_HZ = (50.0, 50.0, 60.03, 49.96, 50.0, 59.97)
#: Spread of the picking place about its aim, mm.
PICK_SPREAD_MM = 6.0


@dataclass(frozen=True)
class Layout:
    """One take of the grid before noise: which notes, format, pickup, pick and mains."""

    kind: str
    number: int
    rate_hz: float
    bits: int
    pickup_mm: float
    pick_mm: float
    mains_hz: float
    notes: tuple[tuple[int, int], ...] = ALL_NOTES


@dataclass(frozen=True)
class CleanTake:
    """Noiseless samples (n,) and the truth of every pluck."""

    layout: Layout
    samples: FloatArray
    plucks: tuple[PluckTruth, ...]


@dataclass(frozen=True)
class NoisyTake:
    """Samples (n,) as a file would hold them, the noise's truth, and where they come from."""

    clean: CleanTake
    snr_db: float
    samples: FloatArray
    noise: ChannelTruth


def layouts(kind: str, count: int, notes: Sequence[tuple[int, int]] = ALL_NOTES) -> list[Layout]:
    """``count`` takes of one kind that run through formats, pickups, picks and mains."""
    return [
        Layout(
            kind, i, *FORMATS[i % 6], PICKUPS_MM[(i + i // 6) % 6],
            PICKS_MM[(i + 2 * (i // 6)) % 6], MAINS_HZ[(i + i // 6) % 6], tuple(notes),
        )
        for i in range(count)
    ]  # fmt: skip


def clean_take(layout: Layout, *, rng: np.random.Generator) -> CleanTake:
    """Render a take without noise, every pluck at -15 dBFS."""
    picks = [
        float(np.clip(layout.pick_mm + rng.normal(0.0, PICK_SPREAD_MM), 40.0, 310.0))
        for _ in layout.notes
    ]
    make = _ideal if layout.kind == "ideal" else _plucked
    return make(layout, picks, rng)


def noisy_take(clean: CleanTake, snr_db: float, *, rng: np.random.Generator) -> NoisyTake:
    """Add hum at -60 dBFS and hiss at the level of the plucks less ``snr_db``; round to bits."""
    layout = clean.layout
    order = np.arange(1, 13)
    power = 1.0 / order**2.0
    lines = HUM_DBFS + 10.0 * np.log10(power / power.sum())
    noise = st.NoiseSpec(
        mains_hz=layout.mains_hz, line_dbfs=tuple(lines), hiss_dbfs=LEVEL_DBFS - snr_db
    )
    subtype = f"PCM_{layout.bits}"
    alone = st.render_recording(
        st.standard_instrument(), _voice(layout), [], rng=rng, rate_hz=layout.rate_hz,
        length_s=clean.samples.size / layout.rate_hz, noise=noise, subtype="FLOAT",
    )  # fmt: skip
    samples = round_to_subtype(clean.samples + alone.samples[0, : clean.samples.size], subtype)
    return NoisyTake(clean, snr_db, samples, alone.truth.channels[0])


def at_ratios(
    layout: Layout, *, rng: np.random.Generator, snrs_db: Sequence[float]
) -> Iterator[NoisyTake]:
    """Render a take once and give it at each signal-to-noise ratio."""
    clean = clean_take(layout, rng=rng)
    for snr_db in snrs_db:
        yield noisy_take(clean, snr_db, rng=rng)


def all_takes(
    kinds: Sequence[str],
    per_kind: int,
    notes: Sequence[tuple[int, int]],
    *,
    seed: int,
    snrs_db: Sequence[float],
    told: Callable[[str], None] = lambda _: None,
) -> Iterator[NoisyTake]:
    """``per_kind`` takes of each kind at each signal-to-noise ratio."""
    for kind in kinds:
        for layout in layouts(kind, per_kind, notes):
            rng = np.random.default_rng([seed, layout.number, kind == "ideal"])
            yield from at_ratios(layout, rng=rng, snrs_db=snrs_db)
            told(f"{kind} {layout.number + 1}/{per_kind}")


def _voice(layout: Layout) -> st.VoiceSpec:
    return st.VoiceSpec("v", (st.Channel("magnetic", st.single_coil(layout.pickup_mm)),))


def _plucked(layout: Layout, picks: list[float], rng: np.random.Generator) -> CleanTake:
    specs = st.plucks_in_turn(
        layout.notes, start_s=QUIET_S, spacing_s=SPACING_S, repeats=1, damp_before_s=0.2,
        like=st.PluckSpec(0.0, 1),
    )  # fmt: skip
    angles = rng.uniform(10.0, 45.0, len(specs))
    detune = rng.normal(0.0, 5.0, len(specs))
    specs = [
        replace(s, position_mm=p, angle_deg=float(a), detune_cents=float(d))
        for s, p, a, d in zip(specs, picks, angles, detune, strict=True)
    ]
    # A short render first: how strong must each pluck be to read -15 dBFS?
    short = [replace(s, time_s=0.1 + 0.8 * i, damp_s=0.65) for i, s in enumerate(specs)]
    first = st.render_recording(
        st.standard_instrument(), _voice(layout), short, rng=rng, rate_hz=layout.rate_hz,
        subtype="FLOAT",
    )  # fmt: skip
    specs = [
        replace(s, strength_db=LEVEL_DBFS - p.outputs[0].level_dbfs)
        for s, p in zip(specs, first.truth.plucks, strict=True)
    ]
    rendered = st.render_recording(
        st.standard_instrument(), _voice(layout), specs, rng=rng, rate_hz=layout.rate_hz,
        length_s=QUIET_S + SPACING_S * len(specs), subtype="FLOAT",
    )  # fmt: skip
    return CleanTake(layout, rendered.samples[0], rendered.truth.plucks)


def _ideal(layout: Layout, picks: list[float], rng: np.random.Generator) -> CleanTake:
    tones = []
    for i, ((string, fret), pick_mm) in enumerate(zip(layout.notes, picks, strict=True)):
        onset_s = QUIET_S + SPACING_S * i + float(rng.uniform(0.0, 1e-3))
        tones.append(_tone(layout, string, fret, pick_mm, onset_s, rng))
    rendered = st.render_partials(
        tones, rng=rng, rate_hz=layout.rate_hz, length_s=QUIET_S + SPACING_S * len(tones)
    )
    plucks = tuple(
        replace(p, string=string, fret=fret, position_mm=pick_mm,
                length_mm=SCALE_MM * 2.0 ** (-fret / 12.0))
        for p, (string, fret), pick_mm in zip(
            rendered.truth.plucks, layout.notes, picks, strict=True)
    )  # fmt: skip
    return CleanTake(layout, rendered.samples[0], plucks)


def _tone(
    layout: Layout,
    string: int,
    fret: int,
    pick_mm: float,
    onset_s: float,
    rng: np.random.Generator,
) -> st.Tone:
    """Partials a_n = |sin n pi p| |sin n pi d| / n with a 20 mm/length roll-off, filled nulls."""
    spec = st.standard_instrument().string(string)
    length_mm = SCALE_MM * 2.0 ** (-fret / 12.0)
    stretch = spec.inharmonicity * 4.0 ** (fret / 12.0)
    cents = float(rng.normal(0.0, 5.0))
    f1_hz = spec.open_hz * 2.0 ** (fret / 12.0 + cents / 1200.0)
    n = np.arange(1, 1 + int(min(0.42 * layout.rate_hz, 14000.0) / f1_hz))
    hz = n * f1_hz * np.sqrt(1.0 + stretch * n**2)
    n, hz = n[hz < 0.42 * layout.rate_hz], hz[hz < 0.42 * layout.rate_hz]
    pick = np.abs(np.sin(n * np.pi * pick_mm / length_mm)) + 0.01
    pickup = np.abs(np.sin(n * np.pi * layout.pickup_mm / length_mm)) + 0.01
    amplitude = pick * pickup / n * np.exp(-hz / 5000.0)
    sigma = spec.damping[0] + spec.damping[1] * hz / 1e3 + spec.damping[2] * (hz / 1e3) ** 2
    mean_square = amplitude**2 / 2.0 * (np.exp(-0.1 * sigma) - np.exp(-1.1 * sigma)) / sigma
    amplitude *= 10.0 ** (LEVEL_DBFS / 20.0) / np.sqrt(2.0 * mean_square.sum())
    last = onset_s + SPACING_S - 0.2
    phase = rng.uniform(-np.pi, np.pi, n.size)
    t60_s = 3.0 * np.log(10.0) / sigma
    return st.Tone(onset_s, hz, amplitude, t60_s, phase_rad=phase, rise_ms=0.3, end_s=last)
