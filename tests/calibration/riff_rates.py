"""How often riffs and strums are judged right: ``python tests/calibration/riff_rates.py``.

Riffs of eight seconds, four before and four after, and strummed chords are played and go through
everything from the samples on. For a hand that plays a riff 0.3 dB, and one that plays it 0.7 dB
louder or softer from time to time, it counts

- ``null``: reports in which nothing changed that claim something, and the same where everything
  after was played 1.5 dB ``harder``, 5 % ``faster``, or with two more wrong notes of twenty
  (``slips``),
- ``treble``, ``level``, ``hum``: reports that find 2 dB more over 1 kHz (as a band or as
  brightness), 1.5 dB more of all, 6 dB more hum,
- ``oracle``: tests that find the 1.5 dB knowing how hard each note was picked,
- ``other``: pairs of different riffs that are refused,
- ``strums``: strums of which every pitch class is named and no other one.

``--on`` chooses what is played (:mod:`riff_sources`): ``soft`` strings that do not stretch,
``stretching`` ones pulled aside by 1 mm, ``finite-difference`` ones by 1.4 mm.
``--trials 20 --seed 2000 --hand 0.3 --kinds level oracle`` counts that many, from there on, for
that hand alone. Method choices were made on seeds under 1000.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import scipy.signal
import soundfile
from verdict_rates import CLAIMS, Rate

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))
from played_riffs import Hand, Performance, perform, random_riff
from riff_sources import SOURCES

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.compare import compare_session
from tonecompare.compare.difference.correction import LEADS
from tonecompare.compare.difference.statistics import ALPHA, pooled
from tonecompare.compare.notes import OTHER_MUSIC
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import measure_session
from tonecompare.session import load_session
from tonecompare.session.model import ComparisonSpec, Session
from tonecompare.strings.instruments import humbucker, standard_instrument
from tonecompare.strings.noise import render_noise
from tonecompare.takes.plucks.chord_notes import sounding_notes

#: Spread of one passage's loudness against the next, dB.
HANDS = {"0.3": Hand(passage_db=0.3), "0.7": Hand(passage_db=0.7)}
LINE_DBFS = (-75.0, -85.0, -80.0)
#: Open chords, frets from string 6 to 1 (None: not struck), and their pitch classes.
SHAPES: Mapping[str, tuple[int | None, ...]] = {
    "E": (0, 2, 2, 1, 0, 0),
    "Em": (0, 2, 2, 0, 0, 0),
    "A": (None, 0, 2, 2, 2, 0),
    "Am": (None, 0, 2, 2, 1, 0),
    "C": (None, 3, 2, 0, 1, 0),
    "D": (None, None, 0, 2, 3, 2),
    "G": (3, 2, 0, 0, 0, 3),
    "F": (1, 3, 3, 2, 1, 1),
    "A7": (None, 0, 2, 0, 2, 0),
    "Em7": (0, 2, 0, 0, 0, 0),
}
_OPEN = (40, 45, 50, 55, 59, 64)
#: What the work changes: level, treble over 1 kHz and hum, in dB.
CHANGES: Mapping[str, tuple[float, float, float]] = {
    "treble": (0.0, 2.0, 0.0),
    "level": (1.5, 0.0, 0.0),
    "hum": (0.0, 0.0, 6.0),
}
#: What else a hand does differently after; of no work.
NULLS: Mapping[str, Mapping[str, float]] = {
    "null": {},
    "harder": {"harder_db": 1.5},
    "faster": {"faster": 1.05},
    "slips": {"wrong": 0.13},
}
KINDS = (*NULLS, *CHANGES, "oracle", "other")
#: What counts as found.
_FINDS = {
    "treble": ("shape_2000_db", "shape_4000_db", "shape_8000_db", "centroid_hz"),
    "level": ("level_dbfs",),
    "hum": ("hum_dbfs",),
}
#: The level's share of the 5 % in a report without decays and resonances.
_LEVEL_ALPHA = ALPHA * LEADS["level_dbfs"] / (sum(LEADS.values()) - 1.5)
_RATE_HZ = 44_100.0


def riffs(
    seed: int, hand: Hand, *, on: str = "soft", kinds: Iterable[str] = KINDS
) -> dict[str, bool]:
    """Play one riff before and after, with each change, and another riff; return what is found.

    Each comparison is a report of its own. The work's changes are made to one performance.
    """
    source, pull_db = SOURCES[on]
    kinds = tuple(kinds)
    played = _performances(seed, replace(hand, pull_db=pull_db), kinds)
    sounds = source(played)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        write(root / "before", sounds["before"], seed)
        for place, kind in enumerate(each for each in kinds if each != "oracle"):
            sound = sounds[kind if kind in sounds else "null"]
            change = CHANGES.get(kind, (0.0, 0.0, 0.0))
            write(root / kind, sound, seed + 100_000 * (place + 1), *change)
        session = load_session(root)
        measurements = measure_session(session)
    found = {
        kind: right(kind, session, measurements) for kind in kinds if kind != "oracle"
    }  # fmt: skip
    if "oracle" in kinds:
        found["oracle"] = _oracle(played, measurements)
    return found


def _performances(seed: int, hand: Hand, kinds: Iterable[str]) -> dict[str, Performance]:
    def of(riff: int, number: int, by: Hand) -> Performance:
        return perform(random_riff(riff), np.random.default_rng([seed, number]), hand=by)

    played = {"before": of(seed, 0, hand), "null": of(seed, 1, hand)}
    for number, (name, differs) in enumerate(NULLS.items(), start=1):
        if name in kinds and differs:
            harder_db = differs.get("harder_db", 0.0)
            rest = {key: value for key, value in differs.items() if key != "harder_db"}
            played[name] = of(seed, number, replace(hand, pull_db=hand.pull_db + harder_db, **rest))
    if "other" in kinds:
        played["other"] = of(seed + 500_000, 9, hand)
    return played


def _oracle(played: Mapping[str, Performance], measurements: Measurements) -> bool:
    """Whether Student's t finds the level with every repeat's true strength taken out."""
    table = measurements.plucks
    sides = []
    for stage, performance in (("before", "before"), ("level", "null")):
        levels = table[table["stage"] == stage]["level_dbfs"].to_numpy(float)
        strengths = played[performance].strength_db()
        if levels.size != strengths.size:
            return False
        sides.append(levels - strengths)
    found = pooled(*((one.mean(), one.var(ddof=1), one.size) for one in sides))
    return bool(found.difference > 0.0 and found.p_value < _LEVEL_ALPHA)


def right(kind: str, session: Session, measurements: Measurements) -> bool:
    """Whether one kind of trial hits: a claim of a null, else what is to be found or refused."""
    spec = ComparisonSpec("before", kind)
    compared = compare_session(replace(session, comparisons=(spec,)), measurements)
    (notes,) = compared.notes.values()
    refused = any(note.kind == OTHER_MUSIC for note in notes)
    if kind == "other":
        return refused
    rows = compared.differences
    claimed = rows[(rows["note"] == "all") & rows["verdict"].isin(CLAIMS)]
    if kind in NULLS:
        return len(claimed) > 0
    return bool((claimed["quantity"].isin(_FINDS[kind]) & (claimed["difference"] > 0.0)).any())


def strum(seed: int) -> bool:
    """Whether a strum is named by its pitch classes, no more and no fewer."""
    rng = np.random.default_rng(seed)
    frets = SHAPES[sorted(SHAPES)[int(rng.integers(len(SHAPES)))]]
    struck = [(6 - k, fret) for k, fret in enumerate(frets) if fret is not None]
    onset_s, plucks = 1.5, []
    for string, fret in struck:
        plucks.append(
            st.PluckSpec(
                onset_s, string, fret, position_mm=110.0 + rng.normal(0.0, 6.0),
                strength_db=-12.0 + rng.normal(0.0, 2.0), detune_cents=rng.normal(0.0, 4.0),
            )
        )  # fmt: skip
        onset_s += rng.uniform(0.004, 0.014)
    rendered = st.render_recording(
        standard_instrument(),
        st.VoiceSpec("bridge", (st.Channel("magnetic", humbucker(rng.uniform(40.0, 150.0))),)),
        plucks,
        rng=rng,
        rate_hz=44_100.0,
        length_s=4.0,
        noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=LINE_DBFS, hiss_dbfs=-85.0),
    )
    found = sounding_notes(
        rendered.samples,
        rate_hz=44_100.0,
        onset_s=1.5,
        end_s=4.0,
        quiet=rendered.samples[:, : round(1.4 * 44_100.0)],
    )
    wanted = {(_OPEN[6 - string] + fret) % 12 for string, fret in struck}
    return {number % 12 for number in found} == wanted


def write(
    stage: Path,
    sound: FloatArray,
    seed: int,
    gain_db: float = 0.0,
    treble_db: float = 0.0,
    hum_db: float = 0.0,
) -> None:
    """Write a stage's take: a sound with gain, treble over 1 kHz, hum and hiss."""
    stage.mkdir()
    lines = tuple(line + hum_db for line in LINE_DBFS)
    noise = st.NoiseSpec(mains_hz=50.0, line_dbfs=lines, hiss_dbfs=-85.0)
    rng = np.random.default_rng([seed, 77])
    samples = 10.0 ** (gain_db / 20.0) * sound
    samples = samples + render_noise(noise, n=sound.size, rate_hz=_RATE_HZ, rng=rng)
    if treble_db:
        samples = shelved(samples, treble_db)
    soundfile.write(stage / "bridge.wav", samples, round(_RATE_HZ), subtype="PCM_24")


def shelved(samples: np.ndarray, treble_db: float, *, rate_hz: float = 44_100.0) -> np.ndarray:
    """Return samples with everything over 1 kHz raised: ``(s A + w)/(s + w)`` as a filter.

    First order, so that half of the decibels are there at 1 kHz times the root of ``A``.
    """
    corner = 2.0 * np.pi * 1000.0
    gain = 10.0 ** (treble_db / 20.0)
    b, a = scipy.signal.bilinear([gain, corner], [1.0, corner], rate_hz)
    return np.asarray(scipy.signal.lfilter(b, a, samples, axis=-1))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1000)
    parser.add_argument("--hand", nargs="+", choices=tuple(HANDS), default=tuple(HANDS))
    parser.add_argument("--on", nargs="+", choices=tuple(SOURCES), default=("soft", "stretching"))
    parser.add_argument("--kinds", nargs="+", choices=(*KINDS, "strums"), default=KINDS)
    chosen = parser.parse_args()
    seeds = range(chosen.seed, chosen.seed + chosen.trials)
    kinds = [kind for kind in chosen.kinds if kind != "strums"]
    for on in chosen.on if kinds else ():
        for name in chosen.hand:
            found = [riffs(seed, HANDS[name], on=on, kinds=kinds) for seed in seeds]
            for kind in found[0]:
                rate = Rate(sum(one[kind] for one in found), len(found))
                print(f"{on:18s} {name:4s} {kind:8s} {rate.hits:3d} of {rate.trials}: {rate}")
    if "strums" in chosen.kinds:
        print(f"strums        {Rate(sum(strum(seed) for seed in seeds), len(seeds))}")


if __name__ == "__main__":
    main()
