"""Rendered takes with known truth, loaded through load_takes, for tests of finding plucks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare import strings as st
from tonecompare.session.model import LeftOut, Recording, Session, Stage
from tonecompare.takes.load import load_takes
from tonecompare.takes.model import Pluck, Take

QUIET = st.NoiseSpec(mains_hz=50.02, line_dbfs=(-60, -75, -68, -90, -80), hiss_dbfs=-85.0)
BRIDGE = st.humbucker(45.0)
MAGNETIC = st.VoiceSpec("bridge", (st.Channel("magnetic", BRIDGE),))
PIEZO = st.VoiceSpec("piezo", (st.Channel("piezo", None, st.Piezo(), ratio=1.0),))
BOTH = st.VoiceSpec(
    "both",
    (
        st.Channel("magnetic", BRIDGE),
        st.Channel("piezo", None, st.Piezo(), ratio=1.0, delay_us=350.0, polarity=-1),
    ),
)
#: (string, fret): the open strings and one higher note of each.
POSITIONS = ((6, 0), (5, 0), (4, 0), (3, 0), (2, 0), (1, 0), (6, 12), (5, 5), (4, 7), (3, 12))
POSITIONS += ((2, 12), (1, 12))


def pluck(time_s: float, string: int, fret: int = 0, **more: float) -> st.PluckSpec:
    return st.PluckSpec(time_s, string, fret, **{"position_mm": 110.0, "strength_db": -6.0, **more})


@dataclass(frozen=True)
class Row:
    """One true pluck and the one found within 15 ms of it, if any."""

    true: st.PluckTruth
    found: Pluck | None

    def errors_s(self) -> list[float]:
        """Per channel, against the time at which the noiseless signal passes 1 % of its peak."""
        assert self.found is not None
        return [
            onset - output.motion_s
            for onset, output in zip(self.found.channel_onset_s, self.true.outputs, strict=True)
        ]


@dataclass(frozen=True)
class Compared:
    rows: list[Row]
    extra: list[Pluck]
    take: Take
    rendered: st.Rendered

    def errors_s(self, channel: int = 0) -> np.ndarray:
        return np.array([row.errors_s()[channel] for row in self.rows])


def session_of(folder: Path, **more: object) -> Session:
    return Session("test", folder, {"s": Stage("s", "g", folder)}, (), **more)  # type: ignore[arg-type]


def load(
    paths: Sequence[Path], *, session: Session | None = None, voice: str = "v"
) -> tuple[list[Take], list[LeftOut]]:
    session = session or session_of(paths[0].parent)
    return load_takes(session, Recording("s", voice, tuple(paths)))


def load_samples(folder: Path, samples: np.ndarray, *, rate_hz: int, name: str = "v.wav") -> Take:
    sf.write(folder / name, np.asarray(samples).T, rate_hz, subtype="PCM_24")
    takes, left_out = load([folder / name])
    assert not left_out
    return takes[0]


def rendered_take(
    folder: Path,
    plucks: Sequence[st.PluckSpec],
    *,
    seed: int,
    voice: st.VoiceSpec = MAGNETIC,
    noise: st.NoiseSpec = QUIET,
    rate_hz: float = 44100.0,
    edit: Callable[[np.ndarray], np.ndarray] | None = None,
    vary: bool = True,
) -> Compared:
    """Render with human spread, write, load, and pair what was played with what was found."""
    rng = np.random.default_rng(seed)
    varied = st.vary_plucks(list(plucks), rng=rng) if vary else list(plucks)
    rendered = st.render_recording(
        st.standard_instrument(),
        voice,
        varied,
        rng=rng,
        rate_hz=rate_hz,
        noise=noise,
        subtype="PCM_24",
    )
    samples = rendered.samples.copy()
    take = load_samples(folder, edit(samples) if edit else samples, rate_hz=int(rate_hz))
    used, rows = set(), []
    for true in rendered.truth.plucks:
        at_s = min(output.motion_s for output in true.outputs)
        near = [p for p in take.plucks if abs(p.onset_s - at_s) < 0.015]
        found = min(near, key=lambda p: abs(p.onset_s - at_s)) if near else None
        used.add(found.number if found else None)
        rows.append(Row(true, found))
    return Compared(rows, [p for p in take.plucks if p.number not in used], take, rendered)
