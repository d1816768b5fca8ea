"""Gain that moved and hum that does not belong: files against the others of their session.

The gain: hiss and level of one voice moved by the same decibels between two recordings of it (its
repeat at the end of a stage, another stage) or from one pluck to the next within a file. A
pickup that changed moves the level and leaves the hiss of the interface where it was; a gain moves
both.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd

from tonecompare.compare.check.model import Checked, Fault, fault_of
from tonecompare.compare.check.words import joined, plain, signed
from tonecompare.measure.inspect import Inspected
from tonecompare.session.model import AGAIN

#: A hiss that moved by less is within what a new quiet shows.
LEAST_GAIN_DB = 1.0
#: Level and hiss that agree this closely moved together; hands do not repeat a level better.
TOGETHER_DB = 0.75
#: Hum above the same voice's other takes, and above the other voices of the stage, in dB.
HUM_SAME_VOICE_DB = 10.0
HUM_OTHER_VOICES_DB = 20.0
#: Below this nobody needs to care about hum.
_HUM_MATTERS_DBFS = -80.0


def gain_faults(checked: Checked) -> Iterator[Fault]:
    """Yield recordings whose gain is not that of their partner."""
    table = _by_recording(checked)
    for (_, one), (_, other) in combinations(table.iterrows(), 2):
        if not _same_sound(checked, one, other):
            continue
        hiss = float(other["hiss_dbfs"] - one["hiss_dbfs"])
        level = _level_change(checked, one, other)
        if abs(hiss) >= LEAST_GAIN_DB and abs(level - hiss) <= TOGETHER_DB:
            yield _gain_fault(one, other, hiss, level)
    yield from _within_files(checked)


def _by_recording(checked: Checked) -> pd.DataFrame:
    """Return hiss and hum by stage, voice and output (medians of the quiets)."""
    keys = ["stage", "voice", "output"]
    quiet = checked.quiet[[*keys, "hiss_dbfs", "hum_dbfs"]]
    return quiet.groupby(keys, sort=False).median().reset_index().dropna(subset=["hiss_dbfs"])


def _same_sound(checked: Checked, one: pd.Series, other: pd.Series) -> bool:
    """Whether two recordings are one voice of one instrument."""
    instruments = [checked.session.stages[str(row["stage"])].instrument for row in (one, other)]
    voices = [str(row["voice"]).removesuffix(AGAIN) for row in (one, other)]
    return (
        instruments[0] == instruments[1]
        and voices[0] == voices[1]
        and one["output"] == other["output"]
    )


def _level_change(checked: Checked, one: pd.Series, other: pd.Series) -> float:
    """Median over the shared notes of the change of the median level, NaN without any."""
    levels = []
    for row in (one, other):
        of = checked.plucks
        for key in ("stage", "voice", "output"):
            of = of[of[key] == row[key]]
        levels.append(of[of["note"] != ""].groupby("note")["level_dbfs"].median())
    change = (levels[1] - levels[0]).dropna()
    return float(change.median()) if len(change) else float("nan")


def _gain_fault(one: pd.Series, other: pd.Series, hiss: float, level: float) -> Fault:
    within = one["stage"] == other["stage"]
    where = str(one["voice"]) if within else f"{one['voice']} at {one['stage']}"
    return Fault(
        "gain moved",
        "again" if within else "doubt",
        str(other["stage"]),
        str(other["voice"]),
        "",
        None,
        f"Against {where} the hiss moved by {signed(hiss)} dB and the level with it "
        f"({signed(level)} dB).",
        "A gain or pad moves both; a pickup moves only the level. Levels and hum of the two do not "
        "compare.",
        "Set the gain back and record it again, or write both gains into session.toml "
        "(interface_gain_db).",
    )


def _within_files(checked: Checked) -> Iterator[Fault]:
    """Yield files whose gain moved between two of their plucks."""
    for file in checked.files:
        turned = _turned(checked, file) if file.quiets else None
        if turned is None:
            continue
        at_s, hiss, level = turned
        yield fault_of(
            file,
            "gain moved",
            "again",
            time_s=at_s,
            what=f"From about {at_s:.1f} s on hiss ({signed(hiss)} dB) and level "
            f"({signed(level)} dB) moved together.",
            why="The gain was turned during the recording: plucks before and after do not compare.",
            remedy="Record it again without touching the gain.",
        )


def _turned(checked: Checked, file: Inspected) -> tuple[float, float, float] | None:
    """Return when the gain was turned, and by how much hiss and level moved; None if it was not.

    The hiss is that under the plucks, where their high partials have died away; the turn is where
    two means, one before and one after, leave the least of its variance.
    """
    plucks = checked.plucks
    plucks = plucks[(plucks["file"] == file.file) & (plucks["channel"] == 1)]
    onsets, hisses = plucks["onset_s"].to_numpy(float), np.array(file.hiss_under_plucks_db)
    if len(onsets) != len(hisses):
        return None
    good = np.flatnonzero(np.isfinite(hisses))
    left = [
        float(np.var(hisses[good[:k]]) * k + np.var(hisses[good[k:]]) * (len(good) - k))
        for k in range(1, len(good))
    ]
    if not left:
        return None
    turn = int(np.argmin(left)) + 1
    before, after = good[:turn], good[turn:]
    hiss = float(np.median(hisses[after]) - np.median(hisses[before]))
    levels = [plucks.iloc[side].groupby("note")["level_dbfs"].median() for side in (before, after)]
    change = (levels[1] - levels[0]).dropna()
    level = float(change.median()) if len(change) else float("nan")
    if abs(hiss) < LEAST_GAIN_DB or not abs(level - hiss) <= TOGETHER_DB:
        return None
    return float(onsets[after[0]]), hiss, level


def hum_faults(checked: Checked) -> Iterator[Fault]:
    """Yield voices that hum far above the other takes."""
    table = _by_recording(checked)
    for at, row in table.iterrows():
        hum = float(row["hum_dbfs"])
        if not hum > _HUM_MATTERS_DBFS:
            continue
        rest = table.drop(index=at)
        same = rest[[_same_sound(checked, row, other) for _, other in rest.iterrows()]]
        others = rest[(rest["stage"] == row["stage"]) & (rest["output"] == row["output"])]
        compared, limit, words = same, HUM_SAME_VOICE_DB, "other takes of this voice"
        if not len(same):
            if _hums_by_nature(checked, str(row["voice"])) or len(others) < 2:
                continue
            compared, limit, words = others, HUM_OTHER_VOICES_DB, "other voices of this stage"
        usual = float(np.nanmedian(compared["hum_dbfs"].to_numpy(dtype=float)))
        if np.isfinite(usual) and hum - max(usual, _HUM_MATTERS_DBFS - limit) > limit:
            yield _hum_fault(row, hum, usual, words)


def _hums_by_nature(checked: Checked, voice: str) -> bool:
    return checked.session.voice(voice).split or "split" in voice.casefold()


def _hum_fault(row: pd.Series, hum: float, usual: float, words: str) -> Fault:
    notes = [
        "Look for a ground that came off, an open shield, a dimmer or a supply nearby",
        "sit as for the other takes",
        "record it again",
    ]
    return Fault(
        "hum",
        "doubt",
        str(row["stage"]),
        str(row["voice"]),
        "",
        None,
        f"Hum at {plain(hum)} dBFS, {plain(hum - usual, 0)} dB above the {words} (median).",
        "Hum depends on place, direction and grounding; this one would be taken for the work, and "
        "its lines cover partials.",
        f"{joined(notes)}. If work on the wiring explains it, it is a finding.",
    )
