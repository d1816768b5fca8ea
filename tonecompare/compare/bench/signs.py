"""What the takes of one stage say at the bench, without any comparison of stages.

Dead spots, strings louder or softer than their neighbours, hum with hands on and off the strings,
the mismatch of a humbucker's coils, interference, and what the piezo's two channels show. Each is
a kind with its numbers; the sentences are made in the report's words.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from tonecompare.compare.bench.dead_spots import DeadSpot, find_dead_spots
from tonecompare.compare.bench.exchanged_channels import outputs_swapped
from tonecompare.compare.model import BenchSign
from tonecompare.compare.selector import of_one_pickup, whole_of
from tonecompare.language import tr_later
from tonecompare.measure.flags import BURSTS, TONE
from tonecompare.measure.measured import Measured
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.string_balance import off_line
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult
from tonecompare.measure.quiet.two_quiets import coil_mismatch_from_residual, hum_hands
from tonecompare.quantities.quiet_and_voice_entries import HUM_LINES
from tonecompare.session.model import HANDS_OFF, HANDS_ON, Session

#: A string this far from the others' mean is named, if its repeats are sure of it.
UNEVEN_DB = 3.0
_NOISE = ("hum_dbfs", *HUM_LINES, "buzz_dbfs", "hiss_dbfs", "noise_a_dbfs")


def bench_signs(session: Session, measurements: Measurements) -> tuple[BenchSign, ...]:
    """Return all bench signs of a session, stage by stage in the order of the tables.

    Parameters
    ----------
    session
        Which voices are splits of which pickups.
    measurements
        Tables of plucks and quiet stretches, and the two-channel results.
    """
    exchanged = tuple(_exchanged(session, measurements))
    signs = [
        *(_dead_spot(spot) for spot in find_dead_spots(measurements.plucks)),
        *_string_balance(measurements),
        *_hands(measurements.quiet),
        *_mismatch(session, measurements.quiet),
        *_interference(measurements.quiet),
        *exchanged,
        *_piezo(measurements, {(sign.stage, sign.voice) for sign in exchanged}),
    ]
    order = {stage: place for place, stage in enumerate(session.stages)}
    return tuple(sorted(signs, key=lambda sign: order.get(sign.stage, len(order))))


def _dead_spot(spot: DeadSpot) -> BenchSign:
    return BenchSign(
        spot.stage, spot.voice, spot.output, "dead-spot", spot.note, spot.decay_s, "s", None,
        (spot.string, spot.expected_s, spot.n_plucks, spot.n_others),
    )  # fmt: skip


def _string_balance(measurements: Measurements) -> Iterator[BenchSign]:
    """Strings off the line through the others by more than these and their repeats explain.

    What a piezo's saddle does is read against the magnetic output of the same plucks
    (:func:`_piezo`), where the player's hand drops out, and not named twice.
    """
    plucks = measurements.plucks
    told = {
        (*key, "piezo", finding.where)
        for key, blend in measurements.blends.items()
        for finding in blend.findings
        if finding.kind == "string-balance"
    }
    known = plucks[plucks["level_dbfs"].notna() & plucks["string"].notna()]
    for key, rows in known.groupby(["stage", "voice", "output"], sort=False):
        stage, voice, output = (str(part) for part in key)
        of_string = rows.groupby("string")["level_dbfs"].agg(["mean", "std", "count"])
        of_string = of_string[of_string["count"] >= 2]
        strings = of_string.index.astype(int).tolist()
        repeats_sd = (of_string["std"] / np.sqrt(of_string["count"])).to_numpy(dtype=np.float64)
        found = off_line(dict(zip(strings, of_string["mean"].tolist(), strict=True)))
        for string, repeat_sd, n in zip(strings, repeats_sd, of_string["count"], strict=True):
            if string not in found:
                continue
            off, line_sd = found[string]
            se = float(np.hypot(repeat_sd, line_sd))
            where = f"string {string}"
            if abs(off) < max(UNEVEN_DB, 3.0 * se) or (stage, voice, output, where) in told:
                continue
            yield BenchSign(
                stage, voice, output, "string-balance", where, off, "dB", se,
                (string, int(n)),
            )  # fmt: skip


def _number(value: Any) -> float | None:
    return float(value) if value is not None and np.isfinite(float(value)) else None


def _result_of(row: pd.Series) -> QuietResult:
    """Turn a row of ``quiet.csv`` back into a result of the noise family."""
    quantities = {}
    for name in _NOISE:
        value, sd = _number(row.get(name)), _number(row.get(f"{name}_se"))
        reason = "" if value is not None else tr_later("no line stands above the floor")
        quantities[name] = Measured(value, "dBFS", sd, reason=reason)
    return QuietResult(quantities, None, None, ())


def _longest(quiet: pd.DataFrame) -> dict[tuple[str, str, str], pd.Series]:
    """Return the longest quiet row of each stage, voice and output."""
    rows: dict[tuple[str, str, str], pd.Series] = {}
    for _, row in quiet.sort_values("length_s").iterrows():
        rows[(str(row["stage"]), str(row["voice"]), str(row["output"]))] = row
    return rows


def _hands(quiet: pd.DataFrame) -> Iterator[BenchSign]:
    rows = _longest(quiet)
    for (stage, voice, output), on in rows.items():
        if not voice.endswith(HANDS_ON):
            continue
        name = voice.removesuffix(HANDS_ON)
        off = rows.get((stage, name + HANDS_OFF, output))
        if off is None:
            off = rows.get((stage, name, output))
        if off is None:
            continue
        change = hum_hands(_result_of(on), _result_of(off))["hum_dbfs"]
        yield BenchSign(
            stage, name, output, "hands", "strings", change.value, "dB", change.uncertainty,
            (change.reason if change.value is None else "",),
        )  # fmt: skip


def _mismatch(session: Session, quiet: pd.DataFrame) -> Iterator[BenchSign]:
    """Coil mismatch where one voice of a stage is the split of another."""
    rows = _longest(quiet)
    voices: dict[str, list[str]] = {}
    for stage, voice, _ in rows:
        voices.setdefault(stage, []).append(voice)
    for (stage, voice, output), one in rows.items():
        # Of two pickups together the hum left says nothing of the coils of either.
        if output != "magnetic" or not of_one_pickup(session, voice):
            continue
        other = whole_of(session, voice, voices[stage])
        whole = rows.get((stage, other, output))
        if whole is not None:
            found = coil_mismatch_from_residual(_result_of(whole), _result_of(one))
            known = found.mismatch.value is not None and found.mismatch.uncertainty is not None
            yield BenchSign(
                stage, other, output, "coil-mismatch", voice, found.mismatch.value, "%",
                found.mismatch.uncertainty,
                (found.residual_db.value, "" if known else found.mismatch.reason),
            )  # fmt: skip


def _interference(quiet: pd.DataFrame) -> Iterator[BenchSign]:
    """Bursts and tones that are not mains, as the quiet's flags name them."""
    for key, rows in quiet.groupby(["stage", "voice", "output"], sort=False):
        stage, voice, output = (str(part) for part in key)
        flags = [flag for of_stretch in rows["flags"] for flag in of_stretch]
        tones = {float(flag.data[0]) for flag in flags if flag.code == TONE}
        if tones:
            yield BenchSign(
                stage, voice, output, "interference", "quiet", None, "", None,
                ("tones", _of_one_source(tones)),
            )  # fmt: skip
        if any(flag.code == BURSTS for flag in flags):
            yield BenchSign(
                stage, voice, output, "interference", "quiet", None, "", None,
                ("bursts",),
            )  # fmt: skip


def _of_one_source(found_hz: set[float]) -> tuple[float, ...]:
    """Return tones from low to high, those of one source (2 Hz apart) once."""
    apart: list[float] = []
    for tone_hz in sorted(found_hz):
        if not apart or tone_hz > apart[-1] + 2.0:
            apart.append(tone_hz)
    return tuple(apart)


def _exchanged(session: Session, measurements: Measurements) -> Iterator[BenchSign]:
    """Two-channel voices whose channels carry each other's output."""
    for stage, voice in measurements.blends:
        plucks = measurements.plucks
        of = plucks[(plucks["stage"] == stage) & (plucks["voice"] == voice)]
        if outputs_swapped(of, session.instrument_of(stage).tuning):
            yield BenchSign(stage, voice, "piezo", "outputs", "channels", None, "", None)


def _piezo(measurements: Measurements, exchanged: set[tuple[str, str]]) -> Iterator[BenchSign]:
    """Yield findings on the piezo, but for voices whose channels look exchanged."""
    for (stage, voice), blend in measurements.blends.items():
        if (stage, voice) in exchanged:
            continue
        for finding in blend.findings:
            yield BenchSign(
                stage, voice, "piezo", "piezo", finding.where, finding.value, finding.unit,
                finding.uncertainty, (finding,),
            )  # fmt: skip
