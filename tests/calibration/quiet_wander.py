"""How often the interval of a hum difference holds when hum wanders, counted on rendered quiets.

The constants of ``measure/quiet/wander.py`` were chosen on first-order wander of block powers;
here they are proved on other kinds: steady hum, amplitude that swells and fades at a period of its
own in every stretch, 1/f wander, mains that drifts, and lines that wander each by itself by 1.5 dB,
so that no two of them move alike. Run it to print METHOD.md's table:

    python tests/calibration/quiet_wander.py [pairs]
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet

RATE_HZ = 16_000.0
#: Each hum row of a report of four lead quiet quantities gets this much of the permitted error.
SHARE = 0.05 / 4.0


@dataclass(frozen=True)
class Kind:
    """How hum moves: gain in dB over time (t, rng), spread of the mains in Hz over a stretch."""

    name: str
    gain_db: Callable[[FloatArray, np.random.Generator], FloatArray]
    drift_hz: float = 0.0
    length_s: float = 3.0
    #: Every line by itself.
    apart: bool = False


def _steady(t_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    del rng
    return np.zeros(t_s.size)


def _swelling(t_s: FloatArray, rng: np.random.Generator, sd_db: float = 0.4) -> FloatArray:
    """0.4 dB (standard deviation) at a period from a second to twice the stretch."""
    period_s = np.exp(rng.uniform(0.0, np.log(2.0 * t_s[-1])))
    phase = rng.uniform(0.0, 2.0 * np.pi)
    return np.asarray(sd_db * np.sqrt(2.0) * np.cos(2.0 * np.pi * t_s / period_s + phase))


def _one_over_f(t_s: FloatArray, rng: np.random.Generator, sd_db: float = 0.4) -> FloatArray:
    """1/f wander from a period of twice the stretch to 0.2 s, 0.4 dB."""
    hz = np.arange(1, int(10.0 * t_s[-1])) / (2.0 * t_s[-1])
    weight = hz**-0.5
    weight *= sd_db / np.sqrt(np.square(weight).sum())
    a, b = rng.standard_normal((2, hz.size)) * weight
    turns = 2.0 * np.pi * np.outer(t_s[:: t_s.size // 300], hz)
    slow = np.cos(turns) @ a + np.sin(turns) @ b
    return np.interp(t_s, t_s[:: t_s.size // 300], slow)


KINDS = (
    Kind("steady", _steady),
    Kind("steady, mains drifts", _steady, drift_hz=0.01, length_s=6.0),
    Kind("swells and fades", _swelling),
    Kind("1/f", _one_over_f),
    Kind("lines apart, swell and fade by 1.5 dB", partial(_swelling, sd_db=1.5), apart=True),
    Kind("lines apart, 1/f, 1.5 dB", partial(_one_over_f, sd_db=1.5), apart=True),
)


def render(kind: Kind, hum_dbfs: float, rng: np.random.Generator) -> FloatArray:
    """One quiet: ten lines falling by 3 dB each with random phases, hiss at -80 dBFS."""
    t_s = np.arange(round(kind.length_s * RATE_HZ)) / RATE_HZ
    bend = rng.standard_normal() * kind.drift_hz * (t_s - t_s[-1] / 2.0)
    phase = 2.0 * np.pi * (rng.uniform(49.9, 50.1) * t_s + bend * t_s / 2.0)
    lines = sum(
        10.0 ** ((hum_dbfs - 3.0 * k + own_db) / 20.0)
        * np.cos(k * phase + rng.uniform(0.0, 2.0 * np.pi))
        for k in range(1, 11)
        for own_db in (kind.gain_db(t_s, rng) if kind.apart else 0.0,)
    )
    hiss = 1e-4 / np.sqrt(2.0) * rng.standard_normal(t_s.size)
    gain_db = 0.0 if kind.apart else kind.gain_db(t_s, rng)
    return np.asarray(lines * 10.0 ** (gain_db / 20.0) + hiss)


@dataclass(frozen=True)
class Rates:
    """Shares over pairs of one quiet a side, and the median half-width in dB."""

    covered: float
    claimed: float
    found_3_db: float
    half_db: float


def rates(kind: Kind, *, pairs: int, seed: int, column: str = "hum_dbfs") -> Rates:
    """Compare pairs of quiets of one hum and see how often that is said."""
    rng = np.random.default_rng(seed)
    difference, se = np.empty(pairs), np.empty(pairs)
    for i in range(pairs):
        sides = [
            measure_quiet(render(kind, -60.0, rng), rate_hz=RATE_HZ).quantities[column]
            for _ in range(2)
        ]
        values = [side.value for side in sides]
        assert None not in values
        difference[i] = float(values[1] or 0.0) - float(values[0] or 0.0)
        se[i] = np.hypot(*(side.uncertainty or 0.0 for side in sides))
    # Normal quantiles: 2.5 % and half of SHARE on a side.
    return Rates(
        float(np.mean(np.abs(difference) < 1.959964 * se)),
        float(np.mean(np.abs(difference) > 2.497705 * se)),
        float(np.mean(np.abs(difference + 3.0) > 2.497705 * se)),
        float(1.959964 * np.median(se)),
    )


def main(pairs: int) -> None:
    """Print the table."""
    print("| hum | covered | false claims | 3 dB found | half-width |")
    print("|---|---|---|---|---|")
    rows = [(seed, kind, "hum_dbfs", kind.name) for seed, kind in enumerate(KINDS)]
    rows += [
        (seed, kind, "hum_03_dbfs", f"line 3 of {kind.name}")
        for seed, kind in enumerate(KINDS)
        if kind.apart
    ]
    for seed, kind, column, name in rows:
        found = rates(kind, pairs=pairs, seed=seed, column=column)
        print(
            f"| {name} | {100 * found.covered:.1f} % | {100 * found.claimed:.1f} % "
            f"| {100 * found.found_3_db:.1f} % | {found.half_db:.2f} dB |"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
