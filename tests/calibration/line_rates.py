"""How often real played lines are judged right: ``python tests/calibration/line_rates.py FOLDER``.

FOLDER holds recordings of lines played on a real guitar. Each line is cut at its events and put
together again eight times, by a hand that is now and then early or late (±20 ms, cross-faded), that
plays some events louder than others (1 dB, and 0.3 dB from one time to the next), leaves one of
fifty out and plays one of thirty twice. Four are before, four after; slides, bends and vibrato,
taps and what rings over are the guitar's own. What is counted is that of
:mod:`riff_rates`: ``null``, ``treble``, ``level``, ``hum``, and ``other`` (another line refused).
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from riff_rates import CHANGES, right, write
from scenario_takes import RATE_HZ
from verdict_rates import Rate

from tonecompare.arrays import FloatArray
from tonecompare.measure.session import measure_session
from tonecompare.session import load_session, session_of_given
from tonecompare.takes import load_takes

KINDS = ("null", *CHANGES, "other")
#: A line has so many events, over no more seconds than this.
_FEWEST, _LONGEST_S = 16, 16.0
_FADE_S, _QUIET_S, _PAUSE_S = 0.005, 3.0, 1.6
_TIMING_S, _PASSAGE_DB, _EVENT_DB, _MISSING, _TWICE = 0.02, 0.3, 1.0, 0.02, 0.03


@dataclass(frozen=True)
class Line:
    """A played line of a real recording, cut at its events."""

    name: str
    events: tuple[FloatArray, ...]


def lines_in(folder: Path) -> list[Line]:
    """Return the lines in a folder whose names begin large, passages joined until long enough."""
    found = []
    session = session_of_given(sorted(folder.glob("[A-Z]*.flac")))
    for recording in session.recordings:
        for take in load_takes(session, recording)[0]:
            samples, rate_hz = take.audio.samples[0], take.audio.rate_hz
            events: list[FloatArray] = []
            for pluck in take.plucks:
                cuts = [round(t * rate_hz) for t in (*pluck.events_s, pluck.end_s)]
                events += np.split(samples, cuts)[1:-1] if pluck.events_s else []
                if len(events) >= _FEWEST:
                    break
            length_s = sum(event.size for event in events) / rate_hz
            if len(events) >= _FEWEST and length_s <= _LONGEST_S and rate_hz == RATE_HZ:
                found.append(Line(take.audio.path.stem, tuple(events)))
    return found


def played(line: Line, rng: np.random.Generator, *, repeats: int = 4) -> FloatArray:
    """Put a line together again, several times with pauses."""
    parts = [np.zeros(round(_QUIET_S * RATE_HZ))]
    for _ in range(repeats):
        loud_db = rng.normal(0.0, _PASSAGE_DB)
        for event in line.events:
            chance = rng.random()
            times = 0 if chance < _MISSING else 2 if chance > 1.0 - _TWICE else 1
            for _ in range(times):
                gain_db = loud_db + rng.normal(0.0, _EVENT_DB)
                longer = round(rng.normal(0.0, _TIMING_S) * RATE_HZ)
                count = max(round(0.05 * RATE_HZ), event.size + min(longer, 0))
                sound = 10.0 ** (gain_db / 20.0) * event[:count]
                parts += [_faded(sound), np.zeros(max(longer, 0))]
        parts.append(np.zeros(round(_PAUSE_S * RATE_HZ)))
    return np.concatenate(parts)


def _faded(sound: FloatArray) -> FloatArray:
    fade = round(_FADE_S * RATE_HZ)
    out = sound.copy()
    out[-fade:] *= np.linspace(1.0, 0.0, fade)
    return out


def judged(lines: list[Line], seed: int) -> dict[str, bool]:
    """Return what is found of one line, played before and after with each change."""
    rng = np.random.default_rng(seed)
    first, second = rng.choice(len(lines), 2, replace=False)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        write(root / "before", played(lines[first], rng), seed)
        after = played(lines[first], rng)
        for place, kind in enumerate(KINDS, start=1):
            sound = played(lines[second], rng) if kind == "other" else after
            change = CHANGES.get(kind, (0.0, 0.0, 0.0))
            write(root / kind, sound, seed + 100_000 * place, *change)
        session = load_session(root)
        measurements = measure_session(session)
        return {kind: right(kind, session, measurements) for kind in KINDS}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1000)
    chosen = parser.parse_args()
    lines = lines_in(chosen.folder)
    print(f"{len(lines)} lines: {', '.join(line.name for line in lines)}")
    found = [judged(lines, chosen.seed + k) for k in range(chosen.trials)]
    for kind in KINDS:
        rate = Rate(sum(one[kind] for one in found), len(found))
        print(f"{kind:8s} {rate.hits:3d} of {rate.trials}: {rate}")


if __name__ == "__main__":
    main()
