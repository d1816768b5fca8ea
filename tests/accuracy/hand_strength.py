"""Hand or pickup: how often is a harder hand found, and a changed pickup taken for one?

    python tests/accuracy/hand_strength.py --recordings FOLDER [--sessions N] [--seed S]

Real plucks of soft and hard playing; a changed pickup is a filter through which the recorded audio
of one half goes (its truth: the same plucks through it and not). Nothing was fitted to the bass and
the electric set but what stands in glide_strength.py as seen on the two guitars.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
import pandas as pd
import soundfile as sf
from calibration_real import DYNAMICS, SETS, STAGES, halves, measure_sets, of_two

from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.hand.picking_strength import KIND, find_strength
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

Response = Callable[[FloatArray], FloatArray]


def _resonance(hz: FloatArray, at_hz: float) -> FloatArray:
    """Return the low pass of coil and cable, quality 2.5."""
    ratio = hz / at_hz
    return np.asarray(1.0 / np.abs(1.0 - ratio**2 + 0.4j * ratio))


def _shelf(hz: FloatArray, level_db: float, from_hz: float, top: float) -> FloatArray:
    """Return a level and a treble that is ``top`` times as strong."""
    step = np.abs((1.0 + 1j * hz / from_hz * top) / (1.0 + 1j * hz / from_hz))
    return np.asarray(10.0 ** (level_db / 20.0) * step)


def _slope(hz: FloatArray, level_db: float, per_octave_db: float) -> FloatArray:
    """Return a level at 200 Hz and a straight slope over octaves, 50 Hz to 6 kHz."""
    octaves = np.log2(np.clip(hz, 50.0, 6000.0) / 200.0)
    return np.asarray(10.0 ** ((level_db + per_octave_db * octaves) / 20.0))


#: What was done to the pickup; the two "as a hand" have just the ratio of level and tilt that a
#: hand makes.
PICKUPS: Mapping[str, Response] = {
    "6 dB quieter": lambda hz: 0.5 + 0.0 * hz,
    "3 dB louder": lambda hz: 10.0**0.15 + 0.0 * hz,
    "split, -6 dB, more treble": lambda hz: _shelf(hz, -6.0, 1500.0, 1.6),
    "quieter, darker as a hand": lambda hz: _slope(hz, -6.0, -1.8),
    "hotter, brighter as a hand": lambda hz: _slope(hz, 6.0, 1.8),
    "resonance 3.2 to 4.5 kHz": lambda hz: _resonance(hz, 4500.0) / _resonance(hz, 3200.0),
}


@dataclass(frozen=True)
class Judged:
    """What became of the hand and of the level over all notes."""

    strength: Confound
    level_db: float
    left_db: tuple[float, float, float]
    adjusted: bool


def filtered(recordings: Path, into: Path, response: Response) -> None:
    """Write every set again as heard through another pickup (minimum phase, 4096 values)."""
    for below, pattern, _ in SETS.values():
        (into / below).mkdir(parents=True, exist_ok=True)
        for file in sorted((recordings / below).glob(pattern)):
            x, rate_hz = sf.read(file, always_2d=True)
            taps = minimum_phase(response, rate_hz)
            size = len(x) + taps.size
            spectrum = np.fft.rfft(x, size, axis=0) * np.fft.rfft(taps, size)[:, np.newaxis]
            y = np.fft.irfft(spectrum, size, axis=0)[: len(x)]
            sf.write(into / below / file.name, y, rate_hz, format="WAV", subtype="FLOAT")


def minimum_phase(response: Response, rate_hz: float, size: int = 4096) -> FloatArray:
    """Impulse response of a magnitude, by the folded cepstrum."""
    hz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    cepstrum = np.fft.irfft(np.log(np.maximum(response(hz), 1e-6)))
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.asarray(np.fft.irfft(np.exp(np.fft.rfft(cepstrum))))


def judged(session: Session, measured: Measurements) -> Judged:
    """Judge one session of one voice."""
    rows = judge_session(session, measured).rows
    found = find_strength(session, measured, rows)
    place = next(
        at
        for at, (note, column) in enumerate(zip(rows.note, rows.column, strict=True))
        if note == "all" and column == "level_dbfs"
    )
    level = float(rows.difference[place])
    left = (level, *(float(end[place]) for end in rows.ends))
    mine = [one for one in found.adjustments if one.row == place]
    for one in mine:
        left = (one.difference, one.low, one.high)
    (strength,) = found.confounds
    return Judged(strength, level, left, bool(mine))


def through(
    plain: Measurements, other: Measurements, *, most: int, rng: np.random.Generator
) -> Iterator[Judged]:
    """Judge halves of equal plucks, the second half through another pickup."""
    keyed = other.plucks.set_index(["file", "pluck"])
    for session, dealt in halves(plain, most=most, rng=rng):
        after = dealt.plucks["stage"] == STAGES[1]
        keys = pd.MultiIndex.from_frame(dealt.plucks.loc[after, ["file", "pluck"]])
        both = [
            dealt.plucks[~after],
            keyed.reindex(keys).reset_index().assign(stage=STAGES[1], voice="voice"),
        ]
        yield judged(session, replace(dealt, plucks=pd.concat(both, ignore_index=True)))


def told(outcomes: list[Judged], truth_db: float) -> str:
    """Return shares: blamed on the hand (by glide, by level and tilt), and the truth covered."""
    by_glide = np.mean([o.strength.found and o.adjusted for o in outcomes])
    by_level = np.mean([o.strength.found and not o.adjusted for o in outcomes])
    held = [o.left_db[1] <= truth_db <= o.left_db[2] for o in outcomes]
    return f"{by_glide:8.3f}{by_level:8.3f}{np.mean(held):8.3f}"


def mean_level(measured: Measurements) -> float:
    """Mean level of all plucks, dBFS."""
    return float(measured.plucks["level_dbfs"].mean())


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--recordings", type=Path, required=True)
    parser.add_argument("--sessions", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    plain = measure_sets(args.recordings)
    head = f"{'':<28}{'':<20}{'glide':>8}{'tilt':>8}{'covered':>8}"
    print("Equal plucks, halves: found a hand by glide, by level and tilt; level's truth covered")
    print(head)
    for name, of_set in plain.items():
        outcomes = [judged(*pair) for pair in halves(of_set, most=args.sessions, rng=rng)]
        print(f"{'nothing':<28}{name:<20}{told(outcomes, 0.0)}", flush=True)
    changed: dict[str, dict[str, Measurements]] = {}
    for what, response in PICKUPS.items():
        with tempfile.TemporaryDirectory() as folder:
            filtered(args.recordings, Path(folder), response)
            changed[what] = measure_sets(Path(folder))
        for name, of_set in plain.items():
            other = changed[what][name]
            outcomes = list(through(of_set, other, most=args.sessions, rng=rng))
            truth = mean_level(other) - mean_level(of_set)
            print(f"{what:<28}{name:<20}{told(outcomes, truth)}", flush=True)
    print("\nSoft against hard playing: strength found, and what of the level is left to the work")
    for soft, hard in DYNAMICS:
        for what, sets in {"": plain, **changed}.items():
            one = judged(*of_two(plain[soft], sets[hard]))
            truth = mean_level(sets[hard]) - mean_level(plain[hard])
            s, left = one.strength, one.left_db
            print(
                f"{soft + ' - ' + hard:<28}{what:<28}found {s.found!s:<6}"
                f"{s.estimate:+5.1f} ({s.ci_low:+.1f} to {s.ci_high:+.1f}) level "
                f"{one.level_db:+5.1f} left {left[0]:+5.1f} ({left[1]:+.1f} to {left[2]:+.1f}) "
                f"pickup {truth:+.1f} {KIND if not one.adjusted and s.found else ''}",
                flush=True,
            )


if __name__ == "__main__":
    main()
