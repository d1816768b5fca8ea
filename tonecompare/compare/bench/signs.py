"""What the takes of one stage say at the bench, without any comparison of stages.

Dead spots, strings louder or softer than their neighbours, hum with hands on and off the strings,
the mismatch of a humbucker's coils, interference, and what the piezo's two channels show. Each is
a sentence with its number; none says more than was measured.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from tonecompare.compare.bench.dead_spots import DeadSpot, find_dead_spots
from tonecompare.compare.bench.exchanged_channels import (
    SWAPPED_REMEDY,
    SWAPPED_WHAT,
    outputs_swapped,
)
from tonecompare.compare.bench.ringing_strings import loud_strings
from tonecompare.compare.model import BenchSign
from tonecompare.measure.flags import BURSTS, TONE
from tonecompare.measure.measured import Measured
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.string_balance import off_line
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult
from tonecompare.measure.quiet.two_quiets import coil_mismatch_from_residual, hum_hands
from tonecompare.quantities.registry import HUM_LINES
from tonecompare.session.model import HANDS_OFF, HANDS_ON, Session

#: A string this far from the others' mean is named, if its repeats are sure of it.
UNEVEN_DB = 3.0
#: Tones of the quiet named one by one.
_TONES_NAMED = 6

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
        *_ringing_along(measurements.plucks),
        *exchanged,
        *_piezo(measurements, {(sign.stage, sign.voice) for sign in exchanged}),
    ]
    order = {stage: place for place, stage in enumerate(session.stages)}
    return tuple(sorted(signs, key=lambda sign: order.get(sign.stage, len(order))))


def _dead_spot(spot: DeadSpot) -> BenchSign:
    string = f" on string {spot.string}" if spot.string else ""
    sentence = (
        f"{spot.note}{string} rings for {spot.decay_s:.1f} s (T60) where its neighbours let "
        f"expect {spot.expected_s:.1f} s: a dead spot, by {spot.n_plucks} plucks against the line "
        f"of {spot.n_others} other notes."
    )
    return BenchSign(
        spot.stage, spot.voice, spot.output, "dead-spot", spot.note, spot.decay_s, "s", None,
        sentence,
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
        if finding.kind == "string balance"
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
            side = "louder" if off > 0 else "softer"
            yield BenchSign(
                stage, voice, output, "string-balance", where, off, "dB", se,
                f"String {string} is {abs(off):.1f} dB (± {max(se, 0.1):.1f} dB) {side} than the "
                f"line through the other strings ({int(n)} plucks).",
            )  # fmt: skip


def _number(value: Any) -> float | None:
    return float(value) if value is not None and np.isfinite(float(value)) else None


def _result_of(row: pd.Series) -> QuietResult:
    """Turn a row of ``quiet.csv`` back into a result of the noise family."""
    quantities = {}
    for name in _NOISE:
        value, sd = _number(row.get(name)), _number(row.get(f"{name}_se"))
        reason = "" if value is not None else "no line stands above the floor"
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
        if change.value is None:
            sentence = f"Hum with hands on the strings could not be compared: {change.reason}."
        elif change.value > 1.0:
            sentence = (
                f"Hum rises by {change.value:.1f} dB when the hands touch the strings: look "
                "whether the strings are connected to ground. Never lift the protective earth."
            )
        elif change.value < -1.0:
            sentence = (
                f"Hum falls by {-change.value:.1f} dB when the hands touch the strings, as it "
                "does where strings are grounded and the player shields."
            )
        else:
            sentence = "Hands on or off the strings make less than 1 dB of difference in hum."
        yield BenchSign(
            stage, name, output, "hands", "strings", change.value, "dB", change.uncertainty,
            sentence,
        )  # fmt: skip


def _mismatch(session: Session, quiet: pd.DataFrame) -> Iterator[BenchSign]:
    """Coil mismatch where one voice of a stage is the split of another (same pickups)."""
    rows = _longest(quiet)
    for (stage, voice, output), one in rows.items():
        split = session.voices.get(voice)
        if split is None or not split.split or output != "magnetic":
            continue
        for (other_stage, other, other_output), whole in rows.items():
            full = session.voices.get(other)
            same = full is not None and full.pickups == split.pickups and not full.split
            if other_stage != stage or other_output != output or not same:
                continue
            found = coil_mismatch_from_residual(_result_of(whole), _result_of(one))
            if found.mismatch.value is None or found.mismatch.uncertainty is None:
                sentence = f"The coils' mismatch is not determinable: {found.mismatch.reason}."
            else:
                sentence = (
                    f"The whole pickup hums {-float(found.residual_db.value or 0.0):.1f} dB less "
                    f"than the one coil of {voice}: its coils differ by about "
                    f"{found.mismatch.value:.1f} % (± {found.mismatch.uncertainty:.1f} %), if all "
                    "hum comes in by the coils."
                )
            yield BenchSign(
                stage, other, output, "coil-mismatch", voice, found.mismatch.value, "%",
                found.mismatch.uncertainty, sentence,
            )  # fmt: skip


def _interference(quiet: pd.DataFrame) -> Iterator[BenchSign]:
    """Bursts and tones that are not mains, as the quiet's flags name them."""
    for key, rows in quiet.groupby(["stage", "voice", "output"], sort=False):
        stage, voice, output = (str(part) for part in key)
        flags = [flag for of_stretch in rows["flags"] for flag in of_stretch]
        tones = {float(flag.data[0]) for flag in flags if flag.code == TONE}
        if tones:
            named = _frequencies(tones)
            yield BenchSign(
                stage, voice, output, "interference", "quiet", None, "", None,
                f"Tones that belong to no mains line stand in the quiet, at {named} Hz: a string "
                "that was not damped, or a switching supply or screen near by.",
            )  # fmt: skip
        if any(flag.code == BURSTS for flag in flags):
            yield BenchSign(
                stage, voice, output, "interference", "quiet", None, "", None,
                "Short bursts stand in the quiet: handling noise, a dimmer or a telephone near "
                "by. They are left out of hum and hiss.",
            )  # fmt: skip


def _ringing_along(plucks: pd.DataFrame) -> Iterator[BenchSign]:
    """Open strings that ring along loudly enough to bend decay times."""
    for loud in loud_strings(plucks):
        yield BenchSign(
            loud.stage, loud.voice, loud.output, "sympathetic", f"string {loud.string}",
            loud.level_db, "dB", loud.level_sd_db, loud.sentence,
        )  # fmt: skip


def _frequencies(found_hz: set[float]) -> str:
    """Name tones from low to high, those of one source once (2 Hz), the first few of many."""
    apart: list[float] = []
    for tone_hz in sorted(found_hz):
        if not apart or tone_hz > apart[-1] + 2.0:
            apart.append(tone_hz)
    named = ", ".join(f"{tone_hz:g}" for tone_hz in apart[:_TONES_NAMED])
    rest = len(apart) - _TONES_NAMED
    return f"{named} and {rest} more" if rest > 0 else named


def _exchanged(session: Session, measurements: Measurements) -> Iterator[BenchSign]:
    """Two-channel voices whose channels carry each other's output."""
    for stage, voice in measurements.blends:
        plucks = measurements.plucks
        of = plucks[(plucks["stage"] == stage) & (plucks["voice"] == voice)]
        found = outputs_swapped(of, session.instrument_of(stage).tuning)
        if found is not None and found.swapped:
            yield BenchSign(
                stage, voice, "piezo", "outputs", "channels", None, "", None,
                f"{SWAPPED_WHAT} Delay, polarity and all else said of this voice's outputs mean "
                f"nothing until that is put right. {SWAPPED_REMEDY}",
            )  # fmt: skip


def _piezo(measurements: Measurements, exchanged: set[tuple[str, str]]) -> Iterator[BenchSign]:
    """Yield findings on the piezo, but for voices whose channels look exchanged."""
    for (stage, voice), blend in measurements.blends.items():
        if (stage, voice) in exchanged:
            continue
        for finding in blend.findings:
            yield BenchSign(
                stage, voice, "piezo", "piezo", finding.where, finding.value, finding.unit,
                finding.uncertainty,
                finding.sentence,
            )  # fmt: skip
