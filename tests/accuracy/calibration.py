"""Are verdicts to be trusted, from audio to verdict: false claims, detection, confounds.

    python tests/accuracy/calibration.py [--sessions N] [--seed S] [--recordings FOLDER]

Stages are rendered by the string model with the scatter of hands, written, read, cut and measured
as any recording is; sessions of two voices (bridge and neck) are dealt from them (see
tests/helpers/calibration_pool.py) and judged with everything ``compare_session`` judges by. With a
folder of real takes their plucks are dealt into halves, and soft plucks set against hard ones.
Rates are of sessions, with a binomial standard error; hands are dealt again and again from a pool,
so the true standard error of a rate is somewhat larger.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "calibration"))

import numpy as np
import pandas as pd
from calibration_pool import (
    BASE,
    HAND_SHARE,
    PICKUPS,
    Condition,
    Pool,
    exact_plucks,
    make_pool,
    truth,
)
from calibration_real import DYNAMICS, halves, measure_sets, of_two
from verdict_rates import CLAIMS, Rate

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES
from tonecompare.session.model import Session

VOICES = ("bridge", "neck")
#: What a pickup is credited with: quantities of these families.
OF_A_PICKUP = ("level", "spectrum", "partials")
_FAMILY = {quantity.column: quantity.family for quantity in QUANTITIES}


@dataclass(frozen=True)
class Outcome:
    """One session judged: the table before and after confounds, and the confounds found."""

    alone: pd.DataFrame
    table: pd.DataFrame
    found: tuple[Confound, ...]

    def claims(self, *families: str, raw: bool = False) -> pd.DataFrame:
        """Rows that claim a change, of some families only or of all."""
        table = self.alone if raw else self.table
        rows = table[table["verdict"].isin(CLAIMS)]
        return rows[rows["quantity"].map(_FAMILY).isin(families)] if families else rows

    def claims_at(self, voice: str, quantity: str) -> bool:
        """Whether the row over the notes claims a change."""
        rows = self.claims()
        at = (rows["voice"] == voice) & (rows["quantity"] == quantity) & (rows["note"] == "all")
        return bool(at.any())

    def kinds(self, voice: str = "") -> set[str]:
        """Kinds of confounds found, that concern a voice if one is given."""
        return {c.kind for c in self.found if not voice or c.voice in ("", voice)}


def judged(session: Session, measured: Measurements) -> Outcome:
    """Judge a session as ``compare_session`` does, without responses and bench signs."""
    alone = judge_session(session, measured).rows
    left, confounds = find_confounds(session, measured, alone)
    found = tuple(confound for confound in confounds if confound.found)
    return Outcome(to_frame(alone), to_frame(apply_confounds(left, confounds)), found)


def solved(what: Callable[[float], float], low: float, high: float, *, target: float) -> float:
    """Bisect for what(x) = target between two values on either side of it."""
    if (what(low) - target) * (what(high) - target) > 0.0:
        raise ValueError(f"{target} does not lie between {what(low)} and {what(high)}")
    rising = what(high) > what(low)
    for _ in range(14):
        middle = 0.5 * (low + high)
        if (what(middle) < target) == rising:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def centroid_hz(pickup: st.Magnetic) -> FloatArray:
    """Centroid of exact, noiseless plucks of six strings, each string's from its own spectrum.

    As the definition has it: magnitudes over 0.05-1.05 s, 60 Hz-12 kHz, Hann frames of 0.2 s;
    worked out by ``librosa.feature.spectral_centroid``, not by the code that is judged.
    """
    import librosa

    found = []
    for samples, rate_hz, onset_s in exact_plucks(pickup):
        first = round((onset_s + 0.05) * rate_hz)
        part = samples[first : first + round(rate_hz)]
        size = round(0.2 * rate_hz)
        power = np.abs(librosa.stft(part, n_fft=size, hop_length=size // 2, center=False)) ** 2
        magnitude = np.sqrt(power.mean(axis=1, keepdims=True))
        hz = librosa.fft_frequencies(sr=rate_hz, n_fft=size)
        inside = (hz >= 60.0) & (hz <= 12000.0)
        found.append(librosa.feature.spectral_centroid(S=magnitude[inside], freq=hz[inside]).item())
    return np.array(found)


def moved_bridge(percent: float) -> st.Magnetic:
    """Bridge pickup moved out: centroid ``percent`` lower, on all strings nearly alike."""
    before = centroid_hz(PICKUPS["bridge"])

    def change(distance_mm: float) -> float:
        return float(np.mean(np.log(centroid_hz(st.humbucker(distance_mm)) / before)))

    return st.humbucker(solved(change, 45.0, 70.0, target=float(np.log(1.0 - percent / 100.0))))


def darker_bridge(percent: float) -> st.Magnetic:
    """Bridge pickup with more inductance: centroid ``percent`` lower on average.

    The resonance takes nothing from the low strings and much from the high ones.
    """
    plain = PICKUPS["bridge"]
    before = centroid_hz(plain)

    def wound(henry: float) -> st.Magnetic:
        return replace(plain, circuit=replace(plain.circuit, inductance_h=henry))

    def change(henry: float) -> float:
        return float(np.mean(np.log(centroid_hz(wound(henry)) / before)))

    own = plain.circuit.inductance_h
    return wound(solved(change, own, 3.0 * own, target=float(np.log(1.0 - percent / 100.0))))


def moved_neck(partial: int, change_db: float) -> st.Magnetic:
    """Neck pickup moved until the balance of a partial moved by so much on average."""

    def level(distance_mm: float) -> float:
        return float(
            np.mean([o.balance_db()[partial - 1] for o in truth(st.single_coil(distance_mm))])
        )

    target = level(150.0) + change_db
    return st.single_coil(solved(level, 150.0, 120.0, target=target))


def conditions(hand_share: float = HAND_SHARE) -> dict[str, tuple[Condition, tuple[str, ...]]]:
    """Everything that is rendered: {name: (how, voices)}."""
    bridge = PICKUPS["bridge"]
    louder = tuple(replace(c, sensitivity=c.sensitivity * 10 ** (1 / 20)) for c in bridge.coils)

    def with_bridge(pickup: st.Magnetic) -> Condition:
        return Condition({**PICKUPS, "bridge": pickup})

    neck = Condition({**PICKUPS, "neck": moved_neck(3, 1.5)})
    every: dict[str, tuple[Condition, tuple[str, ...]]] = {
        "base": (BASE, VOICES),
        "level": (with_bridge(replace(bridge, coils=louder)), ("bridge",)),
        "centroid": (with_bridge(moved_bridge(5.0)), ("bridge",)),
        "resonance": (with_bridge(darker_bridge(5.0)), ("bridge",)),
        "partial": (neck, ("neck",)),
        "decay": (replace(BASE, decay_factor=0.75), VOICES),
        "hum": (replace(BASE, hum_db={"bridge": 3.0}), ("bridge",)),
        "out": (replace(BASE, pick_mm=10.0), VOICES),
        "in": (replace(BASE, pick_mm=-10.0), VOICES),
        "gain": (replace(BASE, gain_db=1.0), VOICES),
    }
    return {
        name: (replace(how, hand_share=hand_share), voices) for name, (how, voices) in every.items()
    }


#: What is looked for: words, condition, the voice worked on, its quantity.
DETECTIONS = (
    ("level 1 dB up, bridge", "level", "bridge", "level_dbfs"),
    ("centroid 5 % down, alike on strings", "centroid", "bridge", "centroid_hz"),
    ("partial 3 1.5 dB up, neck", "partial", "neck", "h03_db"),
    ("decay 25 % shorter", "decay", "bridge", "decay_s"),
    ("hum 3 dB up, bridge", "hum", "bridge", "hum_dbfs"),
)


def dealt(
    pool: Pool, condition: str, *, sessions: int, seed: int, voices: Sequence[str] = VOICES
) -> list[Outcome]:
    """Judge sessions in which every voice that has the condition is in it after."""
    rng = np.random.default_rng([seed, sum(condition.encode())])
    after = {voice: condition if (condition, voice) in pool.quiets else "base" for voice in voices}
    return [judged(*pool.draw(rng, after)) for _ in range(sessions)]


def rate(hits: list[bool]) -> Rate:
    """Share of true ones."""
    return Rate(sum(hits), len(hits))


def rendered_rates(pool: Pool, *, sessions: int, seed: int) -> list[tuple[str, str, Rate, str]]:
    """Return (asked for, what, rate, remark) of everything on rendered takes."""
    rows: list[tuple[str, str, Rate, str]] = []
    null = dealt(pool, "base", sessions=sessions, seed=seed)
    rows.append(("<= 5 %", "nothing changed: any claim", rate([len(o.claims()) > 0 for o in null]),
                 _most_claimed(null)))  # fmt: skip
    rows.append(("", "  before confounds are looked for",
                 rate([len(o.claims(raw=True)) > 0 for o in null]), ""))  # fmt: skip
    rows.append(("", "  any confound found", rate([bool(o.found) for o in null]), _kinds(null)))
    for words, condition, voice, quantity in DETECTIONS:
        outcomes = dealt(pool, condition, sessions=sessions, seed=seed)
        found = rate([o.claims_at(voice, quantity) for o in outcomes])
        rows.append((">= 90 %", words, found, _mean(outcomes, voice, quantity) + _kinds(outcomes)))
    dull = dealt(pool, "resonance", sessions=sessions, seed=seed)
    rows.append(("", "centroid 5 % down, 0 to 12 % by string",
                 rate([o.claims_at("bridge", "centroid_hz") for o in dull]),
                 _mean(dull, "bridge", "centroid_hz") + _kinds(dull)))  # fmt: skip
    rows.append(("", "  any claim on its spectrum",
                 rate([bool((o.claims("spectrum", "partials")["voice"] == "bridge").any())
                       for o in dull]), _most_claimed(dull)))  # fmt: skip
    for words, condition in (("out", "out"), ("in", "in")):
        outcomes = dealt(pool, condition, sessions=sessions, seed=seed)
        found = rate([all("pick-position" in o.kinds(v) for v in VOICES) for o in outcomes])
        rows.append((">= 95 %", f"pick 10 mm {words}: found in both voices", found,
                     _kinds(outcomes)))  # fmt: skip
        claimed = [o for o in outcomes if len(o.claims(*OF_A_PICKUP, raw=True))]
        rows.append((">= 95 %", "  what was claimed is confounded",
                     rate([o.claims(*OF_A_PICKUP).empty for o in claimed]), ""))  # fmt: skip
        rows.append(("0 %", "  some change left to the pickup",
                     rate([not o.claims(*OF_A_PICKUP).empty for o in outcomes]),
                     _most_claimed(outcomes)))  # fmt: skip
    gain = dealt(pool, "gain", sessions=sessions, seed=seed)
    rows.append((">= 95 %", "gain 1 dB up: found", rate(["gain" in o.kinds() for o in gain]),
                 _kinds(gain)))  # fmt: skip
    rows.append(("0 %", "  level credited to the work",
                 rate([any(o.claims_at(v, "level_dbfs") for v in VOICES) for o in gain]),
                 _most_claimed(gain)))  # fmt: skip
    return rows


def _mean(outcomes: list[Outcome], voice: str, quantity: str) -> str:
    values = [
        float(row["difference"])
        for o in outcomes
        for _, row in o.table[
            (o.table["voice"] == voice)
            & (o.table["quantity"] == quantity)
            & (o.table["note"] == "all")
        ].head(1).iterrows()
    ]  # fmt: skip
    return f"mean difference {np.mean(values):+.2f}; "


def _kinds(outcomes: list[Outcome]) -> str:
    return _counted([sorted(o.kinds()) for o in outcomes])


def _most_claimed(outcomes: list[Outcome]) -> str:
    claimed = [o.claims() for o in outcomes]
    return _counted([sorted(set(rows["quantity"])) for rows in claimed])


def _counted(names: list[list[str]]) -> str:
    counts: dict[str, int] = {}
    for name in (name for of_one in names for name in of_one):
        counts[name] = counts.get(name, 0) + 1
    most = sorted(counts.items(), key=lambda item: -item[1])[:6]
    return ", ".join(f"{name} {100.0 * count / len(names):.0f} %" for name, count in most)


def real_rates(
    measured: Mapping[str, Measurements], *, most: int, seed: int
) -> list[tuple[str, str, Rate, str]]:
    """Return (asked for, what, rate, remark) of false claims on halves of real takes."""
    rows: list[tuple[str, str, Rate, str]] = []
    rng = np.random.default_rng(seed)
    everything: list[Outcome] = []
    for name, of_set in measured.items():
        outcomes = [judged(*pair) for pair in halves(of_set, most=most, rng=rng)]
        everything += outcomes
        notes = of_set.plucks["note"].nunique()
        rows.append(("<= 5 %", f"{name}, {notes} notes", rate([len(o.claims()) > 0 for o in
                     outcomes]), _most_claimed(outcomes)))  # fmt: skip
    hits = [len(o.claims()) > 0 for o in everything]
    rows.append(("<= 5 %", "all sets", rate(hits), ""))
    return rows


def dynamics(measured: Mapping[str, Measurements]) -> list[tuple[str, Outcome]]:
    """Judge soft against hard plucks of one instrument."""
    return [
        (f"{soft} against {hard}", judged(*of_two(measured[soft], measured[hard])))
        for soft, hard in DYNAMICS
    ]


def printed(rows: list[tuple[str, str, Rate, str]]) -> None:
    """Print rates as a table."""
    for asked, what, found, remark in rows:
        print(f"  {what:<38}{found!s:>16}  {asked:<8}{remark}", flush=True)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sessions", type=int, default=200, help="sessions for each rate")
    parser.add_argument("--files", type=int, default=12, help="rendered files of each voice")
    parser.add_argument(
        "--hand-share", type=float, default=HAND_SHARE, help="see the pool's module"
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--recordings", type=Path, help="folder of real takes")
    given = parser.parse_args()
    every = conditions(given.hand_share)
    files = dict.fromkeys(every, given.files)
    pool = make_pool(every, files=files, seed=given.seed, workers=given.workers)
    print(
        f"Rendered takes, seed {given.seed}: {given.files} files each, {given.sessions} sessions, "
        f"hand set anew by {given.hand_share:g} of its scatter"
    )
    printed(rendered_rates(pool, sessions=given.sessions, seed=given.seed))
    if given.recordings is None:
        return
    measured = measure_sets(given.recordings)
    print("Real takes: halves of the plucks of one instrument and dynamic, 2 plucks a side")
    printed(real_rates(measured, most=given.sessions, seed=given.seed))
    print("Real takes: soft against hard plucks of one instrument")
    for name, one in dynamics(measured):
        left = one.claims()
        rest = ", ".join(f"{r.note} {r.quantity}" for r in left.itertuples()) or "nothing"
        print(f"  {name:<38}found: {', '.join(sorted(one.kinds())) or 'none'}; left: {rest}")


if __name__ == "__main__":
    main()
