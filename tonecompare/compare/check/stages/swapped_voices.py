"""Voices that are not what their name says: swapped files, or the selector left where it was.

Three signs. Crosswise: two voices of a stage each sound like the *other* one does at another stage
of the instrument (levels of the partials, note by note). In place: the comb of the partials puts
the pickup of one place (bridge, middle, neck, by the voices' names) beyond that of another. Equal:
two voices of a stage sound the same within what re-plucking does.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from tonecompare.compare.check.check_results import Checked, Fault
from tonecompare.compare.check.stages.voice_sounds import Sounds, sounds_of
from tonecompare.session.model import AGAIN

#: Crosswise fits at most this share of the straight difference, which is at least so many dB.
CROSS_SHARE = 0.5
LEAST_STRAIGHT_DB = 3.0
#: Voices that differ by less than this (RMS dB over partials and notes, and level) are one sound.
EQUAL_DB = 0.7
_LEAST_NOTES = 2
#: Places this far from where they should be, in standard uncertainties and in mm.
_FAR_SIGMAS, _FAR_MM = 4.0, 15.0
#: Names that say where a single pickup sits, from the bridge on.
_PLACES = ("bridge", "middle", "neck")


def swapped_faults(checked: Checked) -> Iterator[Fault]:
    """Yield voices that sound like another one."""
    sounds = sounds_of(checked)
    named: set[tuple[str, str]] = set()
    for fault in (*_crosswise(checked, sounds), *_out_of_place(checked)):
        if (fault.stage, fault.voice) not in named:
            named.add((fault.stage, fault.voice))
            yield fault
    yield from _equal(sounds)


def _crosswise(checked: Checked, sounds: Sounds) -> Iterator[Fault]:
    """Yield pairs of voices that fit another stage better crosswise than straight."""
    stages, apart = checked.session.stages, sounds.apart_db
    row_of = {key: row for row, key in enumerate(sounds.keys)}
    for here, there in combinations(checked.stages(), 2):
        if stages[here].instrument != stages[there].instrument:
            continue
        common = [
            (row, row_of[(there, *key[1:])])
            for key, row in row_of.items()
            if key[0] == here and (there, *key[1:]) in row_of and not key[1].endswith(AGAIN)
        ]
        for (a, a_there), (b, b_there) in combinations(common, 2):
            if sounds.keys[a][2] != sounds.keys[b][2]:
                continue
            straight = (float(apart[a, a_there]), float(apart[b, b_there]))
            cross = (float(apart[a, b_there]), float(apart[b, a_there]))
            if not np.isfinite([*straight, *cross]).all():  # too few partials to tell
                continue
            if min(straight) > LEAST_STRAIGHT_DB and max(cross) < CROSS_SHARE * min(straight):
                voices = sounds.keys[a][1], sounds.keys[b][1]
                # Which of the stages is right cannot be told: name the later one.
                for i, voice in enumerate(voices):
                    other = voices[1 - i]
                    # Data: how it shows, the voice it sounds like, at which stage, how far its
                    # partials are from that and from its own, dB.
                    data = ("crosswise", other, here, cross[1 - i], straight[i])
                    yield Fault("wrong voice", "again", there, voice, "", None, data)


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
                for voice in (near, far):
                    # Data: how it shows, place of each pickup in mm from the bridge.
                    data = ("place", near, near_mm, far, far_mm)
                    yield Fault("wrong voice", "again", str(stage), voice, "", None, data)


def _equal(sounds: Sounds) -> Iterator[Fault]:
    alike = np.argwhere(np.triu(sounds.apart_db < EQUAL_DB, k=1))
    for one, other in alike.tolist():
        (stage, voice, output), (stage_2, voice_2, output_2) = sounds.keys[one], sounds.keys[other]
        if (stage, output) != (stage_2, output_2):
            continue
        if voice.removesuffix(AGAIN) == voice_2.removesuffix(AGAIN):
            continue
        level_db = abs(sounds.level_change_db(one, other))
        if sounds.notes_shared(one, other) >= _LEAST_NOTES and level_db < EQUAL_DB:
            # Data: the other voice, how far apart partials and level are, dB.
            data = (voice, float(sounds.apart_db[one, other]), level_db)
            yield Fault("voices alike", "doubt", stage, voice_2, "", None, data)
