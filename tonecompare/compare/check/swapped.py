"""Voices that are not what their name says: swapped files, or the selector left where it was.

Three signs. Crosswise: two voices of a stage each sound like the *other* one does at another stage
of the instrument (levels of the partials, note by note). In place: the comb of the partials puts
the pickup where session.toml or the names (bridge, middle, neck) say it is not. Equal: two voices
of a stage sound the same within what re-plucking does.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd

from tonecompare.compare.check.model import Checked, Fault
from tonecompare.compare.check.words import plain
from tonecompare.measure.columns import PARTIAL_LEVELS
from tonecompare.session.model import AGAIN

#: Partials compared: where level and pickup comb both show and noise does not.
_PARTIALS = PARTIAL_LEVELS[:10]
#: Crosswise fits at most this share of the straight difference, which is at least so many dB.
CROSS_SHARE = 0.5
LEAST_STRAIGHT_DB = 3.0
#: Voices that differ by less than this (RMS dB over partials and notes, and level) are one sound.
EQUAL_DB = 0.7
#: Places this far from where they should be, in standard uncertainties and in mm.
_FAR_SIGMAS, _FAR_MM = 4.0, 15.0
#: Names that say where a single pickup sits, from the bridge on.
_PLACES = ("bridge", "middle", "neck")

_Sounds = dict[tuple[str, str, str], pd.DataFrame]


def swapped_faults(checked: Checked) -> Iterator[Fault]:
    """Yield voices that sound like another one."""
    sounds = _sounds(checked)
    named: set[tuple[str, str]] = set()
    for fault in (*_crosswise(checked, sounds), *_out_of_place(checked)):
        if (fault.stage, fault.voice) not in named:
            named.add((fault.stage, fault.voice))
            yield fault
    yield from _equal(sounds)


def _sounds(checked: Checked) -> _Sounds:
    """Return median level and partial levels by note, of each stage, voice and output."""
    keys = ["stage", "voice", "output"]
    table = checked.plucks[checked.plucks["note"] != ""]
    columns = ["level_dbfs", *_PARTIALS]
    return {
        (str(stage), str(voice), str(output)): rows.groupby("note")[columns].median()
        for (stage, voice, output), rows in table.groupby(keys, sort=False)
    }


def _apart_db(one: pd.DataFrame, other: pd.DataFrame) -> float:
    """RMS difference of partial levels over shared notes, each partial weighing the same."""
    notes = one.index.intersection(other.index)
    if not len(notes):
        return float("nan")
    change = (one.loc[notes, list(_PARTIALS)] - other.loc[notes, list(_PARTIALS)]).to_numpy()
    good = np.isfinite(change)
    return float(np.sqrt(np.mean(change[good] ** 2))) if good.sum() >= 8 else float("nan")


def _crosswise(checked: Checked, sounds: _Sounds) -> Iterator[Fault]:
    """Yield pairs of voices that fit another stage better crosswise than straight."""
    stages = checked.session.stages
    seen = list(checked.stages())
    for here, there in combinations(seen, 2):
        if stages[here].instrument != stages[there].instrument:
            continue
        common = [key for key in sounds if key[0] == here and (there, *key[1:]) in sounds]
        for a, b in combinations(common, 2):
            if a[2] != b[2] or AGAIN in a[1] + b[1]:
                continue
            a_there, b_there = sounds[(there, *a[1:])], sounds[(there, *b[1:])]
            straight = (_apart_db(sounds[a], a_there), _apart_db(sounds[b], b_there))
            cross = (_apart_db(sounds[a], b_there), _apart_db(sounds[b], a_there))
            if min(straight) > LEAST_STRAIGHT_DB and max(cross) < CROSS_SHARE * min(straight):
                # Which of the stages is right cannot be told: name the later one.
                for voice, other, s, c in (
                    (a[1], b[1], straight[0], cross[0]),
                    (b[1], a[1], straight[1], cross[1]),
                ):
                    yield _swapped(
                        there,
                        voice,
                        f"It sounds like {other} at {here} (partials {plain(c)} dB apart), not "
                        f"like {voice} there ({plain(s)} dB); so does {other} the other way round.",
                    )


def _out_of_place(checked: Checked) -> Iterator[Fault]:
    voices = checked.measurements.voices
    if not len(voices):
        return
    rows = voices[(voices["output"] == "magnetic") & voices["pickup_point"].notna()]
    for stage, of_stage in rows.groupby("stage", sort=False):
        scale = checked.session.instrument_of(str(stage)).scale_length_mm or 648.0
        places: dict[str, tuple[float, float]] = {}
        for _, row in of_stage.iterrows():
            point, sd = float(row["pickup_point"]), float(row["pickup_point_se"])
            name = str(row["voice"]).removesuffix(AGAIN)
            if np.isfinite(sd) and sd > 0.0:
                places[name] = (point * scale, sd * scale)
        for near, far in combinations([p for p in _PLACES if p in places], 2):
            (near_mm, near_sd), (far_mm, far_sd) = places[near], places[far]
            gap = near_mm - far_mm
            if gap > _FAR_MM and gap > _FAR_SIGMAS * float(np.hypot(near_sd, far_sd)):
                for voice, mm in ((near, near_mm), (far, far_mm)):
                    yield _swapped(
                        str(stage),
                        voice,
                        f"The comb of its partials puts the pickup of {near} {plain(near_mm, 0)} "
                        f"mm from the bridge and that of {far} {plain(far_mm, 0)} mm: {voice} "
                        f"({plain(mm, 0)} mm) is not where its name says.",
                    )


def _equal(sounds: _Sounds) -> Iterator[Fault]:
    for one, other in combinations(sounds, 2):
        if (
            one[0] != other[0]
            or one[2] != other[2]
            or one[1].removesuffix(AGAIN) == other[1].removesuffix(AGAIN)
        ):
            continue
        a, b = sounds[one], sounds[other]
        apart = _apart_db(a, b)
        level = (a["level_dbfs"] - b["level_dbfs"]).dropna()
        if len(level) < 2:
            continue
        if apart < EQUAL_DB and abs(float(level.median())) < EQUAL_DB:
            yield Fault(
                "voices alike",
                "doubt",
                other[0],
                other[1],
                "",
                None,
                f"{other[1]} and {one[1]} sound the same: partials {plain(apart)} dB apart, level "
                f"{plain(abs(float(level.median())))} dB.",
                "The selector may have stood where it was before, or a switch does nothing.",
                f"Check the selector and record {other[1]} again.",
            )


def _swapped(stage: str, voice: str, what: str) -> Fault:
    return Fault(
        "wrong voice",
        "again",
        stage,
        voice,
        "",
        None,
        what,
        "A comparison would set one pickup against another and call it the work.",
        "Listen to both; if the files were swapped, swap their names, else record them again.",
    )
