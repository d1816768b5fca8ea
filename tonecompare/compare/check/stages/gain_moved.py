"""Gain that moved and hum that does not belong: files against the others of their session.

The gain: hiss and level of one voice moved by the same decibels between two recordings of it (its
repeat at the end of a stage, another stage) or from one pluck to the next within a file. A
pickup that changed moves the level and leaves the hiss of the interface where it was; a gain moves
both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.compare.check.stages.voice_sounds import Key, sounds_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.session.model import AGAIN

#: Kind of its faults.
GAIN_MOVED = "gain moved"
#: A hiss that moved by less is within what a new quiet shows.
LEAST_GAIN_DB = 1.0
#: Level and hiss that agree this closely moved together; hands do not repeat a level better.
TOGETHER_DB = 0.75
#: Hum above the same voice's other takes, and above the other voices of the stage, in dB.
HUM_SAME_VOICE_DB = 10.0
HUM_OTHER_VOICES_DB = 20.0
#: Below this nobody needs to care about hum.
_HUM_MATTERS_DBFS = -80.0
#: Fewer other voices do not say what is usual.
_LEAST_OTHERS = 2


def gain_faults(checked: Checked) -> Iterator[Fault]:
    """Yield recordings whose gain is not that of their partner."""
    for one, other, hiss, level in _gains_between(checked, _by_recording(checked)):
        yield _gain_fault(one.key, other.key, hiss, level)
    yield from _within_files(checked)


@dataclass(frozen=True)
class _Noise:
    """Median hiss and hum of the quiets of a recording."""

    key: Key
    hiss_dbfs: float
    hum_dbfs: float


def _gains_between(
    checked: Checked, noises: list[_Noise]
) -> Iterator[tuple[_Noise, _Noise, float, float]]:
    """Yield two recordings of one voice whose gain differs, by how many dB hiss and level say."""
    sounds = sounds_of(checked)
    row_of = {key: row for row, key in enumerate(sounds.keys)}
    for one, other in combinations([noise for noise in noises if noise.key in row_of], 2):
        if not _same_sound(checked, one.key, other.key):
            continue
        hiss = other.hiss_dbfs - one.hiss_dbfs
        level = sounds.level_change_db(row_of[one.key], row_of[other.key])
        if abs(hiss) >= LEAST_GAIN_DB and abs(level - hiss) <= TOGETHER_DB:
            yield one, other, hiss, level


def _by_recording(checked: Checked) -> list[_Noise]:
    """Return hiss and hum by stage, voice and output."""
    keys = ["stage", "voice", "output"]
    medians = checked.quiet.groupby(keys, sort=False)[["hiss_dbfs", "hum_dbfs"]].median()
    return [
        _Noise((str(key[0]), str(key[1]), str(key[2])), float(hiss), float(hum))
        for key, (hiss, hum) in zip(medians.index, medians.to_numpy(float), strict=True)
        if np.isfinite(hiss)
    ]


def _same_sound(checked: Checked, one: Key, other: Key) -> bool:
    """Whether two recordings are one voice of one instrument."""
    stages = checked.session.stages
    return (
        stages[one[0]].instrument == stages[other[0]].instrument
        and one[1].removesuffix(AGAIN) == other[1].removesuffix(AGAIN)
        and one[2] == other[2]
    )


def _gain_fault(one: Key, other: Key, hiss: float, level: float) -> Fault:
    # Data: "recordings", stage and voice of the other one, how far hiss and level moved in dB.
    severity = "again" if one[0] == other[0] else "doubt"
    data = ("recordings", one[0], one[1], hiss, level)
    return Fault(GAIN_MOVED, severity, other[0], other[1], "", None, data)


def _within_files(checked: Checked) -> Iterator[Fault]:
    """Yield files whose gain moved between two of their plucks."""
    for file in checked.files:
        turned = gain_turned(checked, file) if file.quiets else None
        if turned is None:
            continue
        at_s, hiss, level = turned
        # Data: "within", how far hiss and level moved in dB.
        yield fault_of(file, GAIN_MOVED, "again", ("within", hiss, level), time_s=at_s)


def gain_turned(checked: Checked, file: Inspected) -> tuple[float, float, float] | None:
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
    """Yield voices that hum far above the other takes, with a gain that moved taken out."""
    noises = _by_recording(checked)
    gain_db: dict[tuple[Key, Key], float] = {}
    for one, other, hiss, _ in _gains_between(checked, noises):
        gain_db[one.key, other.key], gain_db[other.key, one.key] = hiss, -hiss
    for noise in noises:
        if not noise.hum_dbfs > _HUM_MATTERS_DBFS:
            continue
        rest = [other for other in noises if other is not noise]
        compared = [other for other in rest if _same_sound(checked, noise.key, other.key)]
        limit, same_voice = HUM_SAME_VOICE_DB, True
        if not compared:
            compared = [o for o in rest if o.key[0] == noise.key[0] and o.key[2] == noise.key[2]]
            limit, same_voice = HUM_OTHER_VOICES_DB, False
            if _hums_by_nature(checked, noise.key[1]) or len(compared) < _LEAST_OTHERS:
                continue
        hums = np.array(
            [other.hum_dbfs + gain_db.get((other.key, noise.key), 0.0) for other in compared]
        )
        hums = hums[np.isfinite(hums)]
        usual = float(np.median(hums)) if hums.size else float("nan")
        if noise.hum_dbfs - max(usual, _HUM_MATTERS_DBFS - limit) > limit:
            # Data: hum in dBFS, dB above the median, whether that is of other takes of the voice.
            data = (noise.hum_dbfs, noise.hum_dbfs - usual, same_voice)
            yield Fault("hum", "doubt", noise.key[0], noise.key[1], "", None, data)


def _hums_by_nature(checked: Checked, voice: str) -> bool:
    return checked.session.voice(voice).split or "split" in voice.casefold()
