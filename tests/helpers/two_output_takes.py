"""Takes of the string model on two outputs, everything about them drawn over its range.

Guitar (scale, stiffness, damping, split of the polarisations, either sign), pickup (one coil, two,
or one of two; distance from the bridge, aperture, load), piezo (capacitance, load, bandwidth of its
preamp, balance of the polarisations), pick, rate, bits, delay 0 to 2 ms and polarity.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tonecompare import strings
from tonecompare.measure.outputs.measure_outputs import measure_delay
from tonecompare.measure.outputs.results import BlendPair, DelayFit

PICKUPS = ("single", "humbucker", "split")
RATES_HZ = (44100.0, 48000.0, 96000.0)
_BITS = {16: 2.0**15, 24: 2.0**23}


@dataclass(frozen=True)
class TwoOutputs:
    """What one take was made of."""

    pickup: str
    instrument: strings.InstrumentSpec
    magnetic: strings.Magnetic
    piezo: strings.Piezo
    pick_mm: float
    angle_deg: float
    rate_hz: float
    bits: int
    delay_s: float
    polarity: int


@dataclass(frozen=True)
class DelayError:
    """One take and what was measured of it; times in µs, NaN where not determinable."""

    take: TwoOutputs
    fit: DelayFit
    error_us: float
    stated_us: float


def _pickup(kind: str, rng: np.random.Generator) -> strings.Magnetic:
    distance_mm = float(rng.uniform(40.0, 168.0))
    cable_f = float(rng.uniform(200e-12, 700e-12))
    seen = float(rng.uniform(0.1, 0.4))
    if kind == "single":
        circuit = strings.Circuit(
            float(rng.uniform(2.0, 3.5)), float(rng.uniform(5e3, 8e3)), 110e-12,
            float(rng.choice([100e3, 200e3, 330e3])), cable_f,
        )  # fmt: skip
        coil = strings.Coil(distance_mm, aperture_mm=float(rng.uniform(8.0, 16.0)))
        return strings.Magnetic((coil,), circuit, seen)
    circuit = strings.Circuit(
        float(rng.uniform(3.8, 7.0)), float(rng.uniform(7e3, 14e3)), 120e-12,
        float(rng.choice([150e3, 200e3, 330e3])), cable_f,
    )  # fmt: skip
    both = strings.humbucker(
        distance_mm, spacing_mm=float(rng.uniform(17.0, 20.0)),
        mismatch=float(rng.uniform(0.005, 0.08)), circuit=circuit,
    )  # fmt: skip
    if kind == "split":
        both = strings.split_coil(both, coil=str(rng.choice(["near", "far"])))
    return replace(both, second_polarisation=seen)


def _instrument(rng: np.random.Generator) -> strings.InstrumentSpec:
    whole = strings.standard_instrument(scale_length_mm=float(rng.uniform(610.0, 686.0)))
    damping = float(rng.uniform(0.8, 2.6))
    strung = [
        replace(
            string,
            inharmonicity=string.inharmonicity * float(rng.uniform(0.7, 1.3)),
            split=string.split * float(rng.uniform(0.3, 1.5)) * float(rng.choice([1.0, -1.0])),
            damping=tuple(damping * value for value in string.damping),
            piezo_gain=float(10 ** (rng.normal(0.0, 1.5) / 20)),
        )
        for string in whole.strings
    ]
    return replace(whole, strings=tuple(strung))


#: Low-pass of the piezo's preamp, Hz.
BANDWIDTH_HZ = (9e3, 20e3)


def drawn(
    index: int, *, rng: np.random.Generator, bandwidth_hz: tuple[float, float] = BANDWIDTH_HZ
) -> TwoOutputs:
    """Draw the take of this index; pickup, rate and bits go round, the rest is random."""
    kind = PICKUPS[index % 3]
    piezo = strings.Piezo(
        capacitance_f=float(rng.uniform(0.5e-9, 1.5e-9)),
        input_ohm=float(rng.choice([1e6, 2.2e6, 4.7e6, 1e7])),
        bandwidth_hz=float(rng.uniform(*bandwidth_hz)),
        second_polarisation=float(rng.uniform(0.2, 0.6)),
    )
    return TwoOutputs(
        kind, _instrument(rng), _pickup(kind, rng), piezo, float(rng.uniform(70.0, 190.0)),
        float(rng.uniform(10.0, 50.0)), RATES_HZ[index // 3 % 3], (16, 24)[index % 2],
        float(rng.uniform(0.0, 2e-3)), int(rng.choice([1, -1])),
    )  # fmt: skip


def rendered(
    take: TwoOutputs,
    *,
    rng: np.random.Generator,
    snr_db: float = 50.0,
    strung: tuple[int, ...] = (6, 5, 4, 3, 2, 1),
) -> list[BlendPair]:
    """Each open string once, white noise ``snr_db`` below each output's RMS from 50 ms on."""
    rate_hz = take.rate_hz
    piezo = strings.Channel(
        "piezo", None, take.piezo, ratio=1.0, delay_us=1e6 * take.delay_s, polarity=take.polarity
    )
    voice = strings.VoiceSpec("both", (strings.Channel("magnetic", take.magnetic), piezo))
    like = strings.PluckSpec(0.0, 1, position_mm=take.pick_mm, angle_deg=take.angle_deg)
    plucks = strings.plucks_in_turn(
        [(string, 0) for string in strung], start_s=0.2, spacing_s=0.7, damp_before_s=0.1, like=like
    )
    made = strings.render_recording(
        take.instrument, voice, strings.vary_plucks(plucks, rng=rng), rng=rng, rate_hz=rate_hz,
        length_s=0.2 + 0.7 * len(strung), subtype="FLOAT",
    )  # fmt: skip
    scale = 0.5 / float(np.abs(made.samples).max())
    lead, steps = round(0.02 * rate_hz), _BITS[take.bits]
    pairs = []
    for pluck in made.truth.plucks:
        onset = round(min(output.motion_s for output in pluck.outputs) * rate_hz)
        outputs = []
        for samples in made.samples[:, onset - lead : onset + round(0.5 * rate_hz)] * scale:
            rms = float(np.sqrt(np.mean(samples[lead + round(0.05 * rate_hz) :] ** 2)))
            noise = rms * 10 ** (-snr_db / 20) * rng.standard_normal(samples.size)
            outputs.append(np.round((samples + noise) * steps) / steps)
        pairs.append(
            BlendPair(
                pluck.note, pluck.string, pluck.f0_hz, outputs[0], outputs[1], lead, rate_hz
            )
        )  # fmt: skip
    return pairs


def delay_errors(
    count: int,
    *,
    seed: int,
    snr_db: float = 50.0,
    strung: tuple[int, ...] = (6, 5, 4, 3, 2, 1),
    bandwidth_hz: tuple[float, float] = BANDWIDTH_HZ,
) -> list[DelayError]:
    """Draw, render and measure that many takes."""
    errors = []
    for index in range(count):
        rng = np.random.default_rng([seed, index])
        take = drawn(index, rng=rng, bandwidth_hz=bandwidth_hz)
        fit = measure_delay(rendered(take, rng=rng, snr_db=snr_db, strung=strung))
        known = fit.delay_s is not None and fit.delay_se_s is not None
        errors.append(
            DelayError(
                take, fit,
                1e6 * (fit.delay_s - take.delay_s) if known and fit.delay_s else float("nan"),
                1e6 * fit.delay_se_s if known and fit.delay_se_s else float("nan"),
            )
        )  # fmt: skip
    return errors
