"""Invented measurements and comparisons with a known story, so that pages can be judged.

The numbers are drawn from a seeded generator around chosen means; nothing here is measured.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from comparisons_made import TableGiven
from scipy import stats

from tonecompare.compare.cause_facts import GainFacts, PlaceFacts
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.model import Confound, Equaliser, EqualiserBand, Note, Response
from tonecompare.measure.flags import Flag
from tonecompare.measure.model import FileRecord, Measurements, PluckCurves, QuietCurves
from tonecompare.quantities.columns import BLEND, DIFFERENCES, MEASUREMENTS, QUIET
from tonecompare.report import write_report
from tonecompare.session.model import ComparisonSpec, LeftOut, Session, Stage, Voice, WorkItem

NOTES = {"E2": 82.41, "A2": 110.0, "D3": 146.83, "G3": 196.0, "B3": 246.94, "E4": 329.63}
BANDS = 20.0 * 2.0 ** (np.arange(240) / 24.0)
STOCK, REWOUND = "heron-stock", "heron-rewound"
COMPARISON = f"{STOCK} to {REWOUND}"


def _pluck_curves(f0: float, gain_db: float, tilt_db: float, t60_s: float, rng: Any) -> PluckCurves:
    n = np.arange(1, 25)
    partial_hz = n * f0
    level = gain_db - 22.0 - 14.0 * np.log10(n) + tilt_db * np.log2(n) + 3.0 * np.sin(0.8 * n)
    level = level + rng.normal(0.0, 0.8, n.size)
    power = np.zeros(BANDS.size)
    for hz, db in zip(partial_hz, level, strict=True):
        power += 10.0 ** (db / 10.0) / (1.0 + ((BANDS - hz) / (0.012 * hz + 2.0)) ** 2)
    floor = 10.0 ** (-92.0 / 10.0)
    band = np.where(power > floor, 10.0 * np.log10(power + 1e-12), np.nan)
    times = np.linspace(0.0, min(0.9 * t60_s, 7.0), 120)
    decay = -60.0 * times / t60_s + 1.2 * np.sin(6.0 * times) * (times > 0.1)
    return PluckCurves(BANDS, band, times, decay, level)


def _quiet_curves(hum_db: float, hiss_db: float, rng: Any) -> QuietCurves:
    hz = np.arange(0.0, 12000.0, 0.5)
    level = hiss_db - 50.0 + rng.normal(0.0, 2.0, hz.size)
    for line in range(1, 60):
        near = np.abs(hz - 50.0 * line) < 0.6
        level[near] = np.maximum(level[near], hum_db - 6.0 * np.log2(line) - 3.0 * (line % 2 == 0))
    return QuietCurves(hz, level, 0.75)


#: Means per stage and voice: level, tilt, decay factor, centroid, hum.
STORY = {
    (STOCK, "bridge"): (0.0, -1.0, 1.0, 1450.0, -74.0),
    (REWOUND, "bridge"): (1.9, -1.6, 1.02, 1290.0, -74.3),
    (STOCK, "neck-split"): (-3.0, -1.2, 1.0, 1100.0, -70.0),
    (REWOUND, "neck-split"): (-8.7, -0.6, 1.01, 1240.0, -62.0),
    (STOCK, "middle"): (-1.0, -1.1, 1.0, 1300.0, -72.0),
    (REWOUND, "middle"): (-1.1, -1.1, 1.03, 1312.0, -72.3),
}


def _tables(voices: list[str], repeats: int, rng: Any) -> SimpleNamespace:
    plucks, quiet, curves, quiet_curves, files = [], [], {}, {}, []
    for (stage, voice), (gain, tilt, decay, centroid, hum) in STORY.items():
        if voice not in voices:
            continue
        file = f"{stage}/{voice}.wav"
        number, at = 0, 3.0
        for order, (note, f0) in enumerate(NOTES.items()):
            for _ in range(repeats):
                number += 1
                level = gain - 24.0 - 0.3 * order + rng.normal(0.0, 0.5)
                t60 = (9.0 - order) * decay * np.exp(rng.normal(0.0, 0.05))
                curves[file, 1, number] = _pluck_curves(f0, level + 22.0, tilt, t60, rng)
                plucks.append({
                    "stage": stage, "voice": voice, "output": "magnetic", "file": file,
                    "channel": 1, "pluck": number, "note": note, "string": 6 - order,
                    "onset_s": at, "ring_s": 4.0, "f0_hz": f0 * np.exp(rng.normal(0, 3e-4)),
                    "cents": rng.normal(0.0, 0.5), "peak_dbfs": level + 12.0, "level_dbfs": level,
                    "snr_db": 55.0, "attack_ms": 6.0 + rng.normal(0.0, 1.0),
                    "centroid_hz": centroid * np.exp(rng.normal(0.0, 0.03)),
                    "tilt_db_per_octave": tilt - 5.0 + rng.normal(0.0, 0.2),
                    "odd_even_db": 2.0 + rng.normal(0.0, 0.8), "decay_s": t60,
                    "decay_early_s": 0.8 * t60, "decay_late_s": np.nan,
                    "inharmonicity": 1e-4, "pluck_point": 0.14 + rng.normal(0.0, 0.005),
                    "flags": (Flag("late-decay-too-quiet"),),
                    **{
                        f"h{n:02d}_db": -3.0 * n + 2.0 * tilt * (n - 8) / 8 + rng.normal()
                        for n in range(1, 25)
                    },
                })  # fmt: skip
                at += 4.5
        quiet.append({
            "stage": stage, "voice": voice, "output": "magnetic", "file": file, "channel": 1,
            "start_s": 0.2, "length_s": 2.5, "mains_hz": 50.02, "hum_dbfs": hum,
            "buzz_dbfs": hum - 14.0, "hiss_dbfs": -88.0, "noise_a_dbfs": -86.0,
            "signal_to_hum_db": gain - 24.0 - hum, "flags": (),
        })  # fmt: skip
        quiet_curves[file, 1, 1] = _quiet_curves(hum, -88.0, rng)
        files.append(
            FileRecord(file, f"{len(files):064x}", 48000.0, 1, "PCM_24", at, stage, voice, number)
        )
    return SimpleNamespace(
        plucks=pd.DataFrame(plucks).reindex(columns=[*MEASUREMENTS, "level_dbfs_se"]),
        quiet=pd.DataFrame(quiet).reindex(columns=list(QUIET)),
        curves=curves,
        quiet_curves=quiet_curves,
        files=tuple(files),
    )


_THRESHOLDS = {
    "level_dbfs": ("dB", 1.0), "centroid_hz": ("%", 5.0), "tilt_db_per_octave": ("dB/octave", 0.5),
    "odd_even_db": ("dB", 1.5), "decay_s": ("%", 25.0), "attack_ms": ("%", 25.0),
    "hum_dbfs": ("dB", 3.0), "buzz_dbfs": ("dB", 3.0), "hiss_dbfs": ("dB", 1.5),
    "signal_to_hum_db": ("dB", 3.0), **{f"h{n:02d}_db": ("dB", 2.0) for n in range(1, 25)},
}  # fmt: skip


def _verdict(low: float, high: float, threshold: float) -> str:
    if low > 0 or high < 0:
        return "likely-audible" if min(abs(low), abs(high)) > threshold else "measurable"
    return "no-change" if max(abs(low), abs(high)) < threshold else "undecided"


def difference_row(**changes: Any) -> dict[str, Any]:
    """One row of differences.csv, audibly quieter unless changed."""
    row: dict[str, Any] = {
        "comparison": COMPARISON, "before": STOCK, "after": REWOUND, "voice": "neck-split",
        "output": "magnetic", "note": "all", "quantity": "level_dbfs", "unit": "dB",
        "before_value": -27.0, "after_value": -32.7, "difference": -5.7, "ci_low": -6.2,
        "ci_high": -5.2, "n_before": 30, "n_after": 28, "p_value": 1e-6, "p_adjusted": 1e-5,
        "hearing_threshold": 1.0, "verdict": "likely-audible", "reason": "",
    }  # fmt: skip
    return {**row, **changes}


def _differences(tables: SimpleNamespace, voices: list[str]) -> pd.DataFrame:
    rows = []
    for voice in voices:
        for quantity, (unit, threshold) in _THRESHOLDS.items():
            table = tables.quiet if quantity in tables.quiet.columns else tables.plucks
            sides = [
                table[(table["stage"] == stage) & (table["voice"] == voice)][quantity]
                .astype(float).to_numpy()
                for stage in (STOCK, REWOUND)
            ]  # fmt: skip
            scale = 100.0 if unit == "%" else 1.0
            before, after = (np.log(side) if unit == "%" else side for side in sides)
            difference = scale * float(np.mean(after) - np.mean(before))
            spread = np.sqrt(np.var(after) / after.size + np.var(before) / before.size) * scale
            half = stats.t.ppf(0.975, 10) * spread if after.size > 1 else 0.15 * threshold
            low, high = difference - half, difference + half
            rows.append(
                difference_row(
                    voice=voice, quantity=quantity, unit=unit, difference=difference, ci_low=low,
                    ci_high=high, before_value=float(np.mean(sides[0])),
                    after_value=float(np.mean(sides[1])), n_before=before.size,
                    n_after=after.size, hearing_threshold=threshold,
                    verdict=_verdict(low, high, threshold),
                )
            )  # fmt: skip
    return pd.DataFrame(rows).reindex(columns=list(DIFFERENCES))


def _response(voice: str) -> Response:
    hz = 80.0 * 2.0 ** (np.arange(40) / 6.0)
    curve = 2.0 - 3.0 / (1.0 + (2500.0 / hz) ** 4)
    return Response(COMPARISON, voice, "magnetic", hz, curve, curve - 0.6, curve + 0.6, 6)


def _equaliser(voice: str) -> Equaliser:
    bands = (
        EqualiserBand("low-shelf", 180.0, 1.4, 0.7),
        EqualiserBand("peak", 2600.0, -3.1, 1.2),
    )
    return Equaliser(
        COMPARISON,
        voice,
        "magnetic",
        bands,
        0.8,
        2.4,
        0.5,
        1 - 0.5 / 2.4,
        np.array([1.1, 0.2, -0.1]),
        48000.0,
    )


def make_session(root: Path, voices: list[str], *, title: str = "Heron rewind") -> Session:
    """A session of two stages whose recordings need not exist."""
    stages = {
        STOCK: Stage(STOCK, "heron", root / STOCK),
        REWOUND: Stage(
            REWOUND, "heron", root / REWOUND, from_stage=STOCK,
            work=(WorkItem("neck pickup rewound", 35.0, 3.0),),
        ),
    }  # fmt: skip
    return Session(
        title, root, stages, (), voices={name: Voice(name) for name in voices},
        comparisons=(ComparisonSpec(STOCK, REWOUND),), left_out=(
            LeftOut("heron-stock/piezo.wav", "heron-stock/piezo.wav: is empty (0 bytes). Export "
                    "or copy it again from the recording program."),
        ),
    )  # fmt: skip


def build(
    root: Path, *, voices: list[str] | None = None, repeats: int = 3, title: str = "Heron rewind"
) -> SimpleNamespace:
    """Session, measurements and comparisons of the invented rewind."""
    rng = np.random.default_rng(20260101)
    voices = voices or ["bridge", "neck-split", "middle"]
    session = make_session(root, voices, title=title)
    tables = _tables(voices, repeats, rng)
    measurements = Measurements(
        tables.plucks, tables.quiet, pd.DataFrame(columns=list(BLEND)), tables.curves,
        tables.quiet_curves, tables.files,
    )  # fmt: skip
    confounds = (
        Confound(COMPARISON, "", "gain", False, 0.1, "dB", -0.2, 0.4, 0.5, ("level_dbfs",),
                 GainFacts()),
        Confound(COMPARISON, "middle", "pick-position", True, 0.009, "share of the string",
                 0.006, 0.012, 0.001,
                 ("odd_even_db", "centroid_hz"), PlaceFacts(None, 648.0)),
    )  # fmt: skip
    comparisons = TableGiven(
        no_rows(), confounds,
        tuple(_response(voice) for voice in voices), (_equaliser(voices[0]),),
        {COMPARISON: (Note("no-control"),)},
        differences=_differences(tables, voices),
    )  # fmt: skip
    return SimpleNamespace(
        session=session, measurements=measurements, comparisons=comparisons, root=root
    )


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> SimpleNamespace:
    """The invented rewind, three voices."""
    return build(tmp_path_factory.mktemp("story"))


@pytest.fixture(scope="session")
def small_story(tmp_path_factory: pytest.TempPathFactory) -> SimpleNamespace:
    """The same with one voice, for tests that write many reports."""
    return build(tmp_path_factory.mktemp("small"), voices=["bridge"], repeats=2)


@pytest.fixture(scope="session")
def small_page(small_story: SimpleNamespace, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of the small story's report, without sounds."""
    folder = write_report(
        small_story.session, small_story.measurements, small_story.comparisons,
        tmp_path_factory.mktemp("small-page") / "r", clips=False,
    )  # fmt: skip
    return (folder / "index.html").read_text(encoding="utf-8")


@pytest.fixture
def row() -> Any:
    """Make one row of differences.csv."""
    return difference_row


@pytest.fixture
def comparisons_of() -> Any:
    """Make Comparisons from rows of differences.csv."""

    def make(*rows: dict[str, Any], **others: Any) -> Comparisons:
        frame = pd.DataFrame(list(rows)).reindex(
            columns=[
                *DIFFERENCES,
                *(name for name in ("more_plucks", "adjusted_for") if any(name in r for r in rows)),
            ]
        )
        return TableGiven(differences=frame, **others)

    return make
