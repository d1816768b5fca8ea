"""Every stage's voices side by side: which sounds there are, which pairs are told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import pandas as pd

from tonecompare.compare.planned import levels_of_sounds
from tonecompare.compare.selector import is_split, output_kind, selector_place, whole_of
from tonecompare.compare.side_by_side.pair_estimates import MeasuredSounds, measured_sounds
from tonecompare.compare.side_by_side.sounds import (
    HEARD_AT_ONCE,
    SoundDifference,
    SoundDistance,
    StageVoices,
    VoicePair,
    VoiceSound,
)
from tonecompare.measure.model import Measurements
from tonecompare.session.model import AGAIN, HANDS_OFF, HANDS_ON, REFERENCE_VOICES, Session

_NO_VOICE = (AGAIN, HANDS_ON, HANDS_OFF)


def side_by_side(session: Session, measurements: Measurements) -> tuple[StageVoices, ...]:
    """Return the voices of every stage that has two sounds or more.

    Parameters
    ----------
    session
        What is known of the voices: which is a split of which, what each channel carries.
    measurements
        As measured; a voice recorded again at the end of its stage is not set beside itself.
    """
    narrowed = _each_stage(measurements)
    stages = (_of_stage(session, narrowed(stage), stage) for stage in session.stages)
    return tuple(one for one in stages if one is not None)


def _each_stage(measurements: Measurements) -> Callable[[str], Measurements]:
    """Split the tables once: searched anew for each of many stages they take long."""

    def split(table: pd.DataFrame) -> Callable[[str], pd.DataFrame]:
        parts = dict(list(table.groupby("stage", sort=False))) if len(table) else {}
        return lambda stage: parts.get(stage, table.iloc[:0])

    plucks, quiet, voices = map(
        split, (measurements.plucks, measurements.quiet, measurements.voices)
    )
    return lambda stage: replace(
        measurements, plucks=plucks(stage), quiet=quiet(stage), voices=voices(stage)
    )


def _of_stage(session: Session, measurements: Measurements, stage: str) -> StageVoices | None:
    levels = {
        VoiceSound(*key): level for key, level in levels_of_sounds(measurements, stage).items()
        if not key[0].endswith(_NO_VOICE) and key[0].casefold() not in REFERENCE_VOICES
    }  # fmt: skip
    sounds, piezo_from = _one_piezo(
        sorted(levels, key=lambda one: (selector_place(session, one.voice), one.output))
    )
    measured = measured_sounds(measurements, stage, sounds, session.hearing_thresholds)
    sounds = [one for one in sounds if one in measured.plucked]
    if len(sounds) < 2:
        return None
    loudest = max(sounds, key=lambda one: levels[one])
    every = [sound_against(measured, *pair) for pair in combinations(sounds, 2)]
    return StageVoices(
        stage,
        tuple(sounds),
        loudest,
        {(one, name): v for one in sounds for name, v in measured.own_values(one).items()},
        tuple(
            sound_against(measured, loudest, one, together=len(sounds) - 1)
            for one in sounds
            if one != loudest
        ),
        splits=tuple(_splits(session, measured, sounds)),
        neighbours=tuple(_neighbours(session, measured, sounds)),
        outputs=tuple(_outputs(session, measured, sounds, loudest)),
        nearest=_nearest(every),
        farthest=_farthest(every),
        piezo_from=piezo_from,
        levels={one: levels[one] for one in sounds},
    )


def _one_piezo(sounds: Sequence[VoiceSound]) -> tuple[list[VoiceSound], str]:
    """Keep one piezo of those that several two-channel takes carry beside their magnetic voice."""
    both = {one.voice for one in sounds if one.output == "magnetic"}
    beside = [one for one in sounds if one.output == "piezo" and one.voice in both]
    kept = [one for one in sounds if one not in beside]
    return [*kept, *beside[:1]], beside[0].voice if len(beside) > 1 else ""


def sound_against(
    measured: MeasuredSounds, against: VoiceSound, sound: VoiceSound, *, together: int = 1
) -> VoicePair:
    """Return one sound against another; ``together`` sounds are read side by side."""
    found = measured.pair(against, sound)
    distance = _distance(measured.level_and_bands(found))
    return VoicePair(
        against, sound, measured.cells(found, together=together), distance,
        _alike(measured.cells(found)),
    )  # fmt: skip


def _distance(cells: Mapping[str, SoundDifference]) -> SoundDistance | None:
    """Return the largest multiple of a hearing threshold over level and bands."""
    sizes, least, most = dict[str, float](), [0.0], list[float]()
    for name in HEARD_AT_ONCE:
        cell = cells[name]
        if cell.weak or cell.difference is None:
            continue
        size = cell.in_thresholds(cell.difference)
        if size is None:
            continue
        sizes[name] = abs(size)
        if cell.ends is None:
            most.append(float("inf"))
            continue
        ends = [abs(cell.in_thresholds(end) or 0.0) for end in cell.ends]
        least.append(min(ends) if cell.sure else 0.0)
        most.append(max(ends))
    if not sizes:
        return None
    at = max(sizes, key=lambda name: sizes[name])
    return SoundDistance(sizes[at], max(least), max(most), at)


def _alike(cells: Mapping[str, SoundDifference]) -> bool:
    """Whether level, every band of note and decay surely differ by less than a threshold."""
    told = [cells[name] for name in HEARD_AT_ONCE if not cells[name].weak]
    decay = cells["decay_s"]
    if decay.difference is not None:
        told.append(decay)
    return all(_within(cell) for cell in told) and bool(told)


def _within(cell: SoundDifference) -> bool:
    ends, low, high = cell.ends, cell.threshold_low, cell.threshold_high
    if ends is None or low is None or high is None or cell.n_notes < 2:
        return False
    return low <= ends[0] and ends[1] <= high


def _nearest(pairs: Iterable[VoicePair]) -> tuple[VoicePair, ...]:
    known = [one for one in pairs if one.distance is not None]
    alike = tuple(one for one in known if one.alike)
    return alike or tuple(sorted(known, key=_size)[:1])


def _farthest(pairs: Iterable[VoicePair]) -> VoicePair | None:
    known = [one for one in pairs if one.distance is not None and one.distance.ci_low > 1.0]
    return max(known, key=lambda one: (_sure(one), _size(one)), default=None)


def _size(pair: VoicePair) -> float:
    return pair.distance.value if pair.distance is not None else float("inf")


def _sure(pair: VoicePair) -> float:
    return pair.distance.ci_low if pair.distance is not None else 0.0


def _splits(
    session: Session, measured: MeasuredSounds, sounds: Sequence[VoiceSound]
) -> Iterable[VoicePair]:
    for sound in sounds:
        whole = whole_of(session, sound.voice, {one.voice for one in sounds})
        against = VoiceSound(whole, sound.output)
        if whole and against in sounds and sound.output != "piezo":
            yield sound_against(measured, against, sound)


def _neighbours(
    session: Session, measured: MeasuredSounds, sounds: Sequence[VoiceSound]
) -> Iterable[VoicePair]:
    magnetic = [one for one in sounds if output_kind(session, one.voice, one.output) == "magnetic"]
    for split in (False, True):
        row = [one for one in magnetic if is_split(session, one.voice) == split]
        for one, other in pairwise(row):
            yield sound_against(measured, one, other)


def _outputs(
    session: Session, measured: MeasuredSounds, sounds: Sequence[VoiceSound], loudest: VoiceSound
) -> Iterable[VoicePair]:
    """Piezo against magnetic and blend against both: of one take, or of separate recordings.

    A separate piezo stands against the loudest magnetic voice, a separate blend against the
    magnetic voice of its own pickups where there is one.
    """
    of_kind: dict[str, list[VoiceSound]] = {"magnetic": [], "piezo": [], "blend": []}
    for one in sounds:
        of_kind[output_kind(session, one.voice, one.output)].append(one)
    for piezo in of_kind["piezo"]:
        magnetic = _its_magnetic(session, piezo, of_kind["magnetic"], loudest)
        if magnetic is not None:
            yield sound_against(measured, magnetic, piezo)
    for blend in of_kind["blend"]:
        magnetic = _its_magnetic(session, blend, of_kind["magnetic"], loudest)
        for against in (magnetic, *of_kind["piezo"][:1]):
            if against is not None:
                yield sound_against(measured, against, blend)


def _its_magnetic(
    session: Session, sound: VoiceSound, magnetic: Sequence[VoiceSound], loudest: VoiceSound
) -> VoiceSound | None:
    if not magnetic:
        return None
    mine = set(session.voice(sound.voice).magnetic_pickups)
    words = set(sound.voice.casefold().replace("_", "-").split("-"))
    for one in magnetic:
        theirs = set(session.voice(one.voice).magnetic_pickups)
        if one.voice == sound.voice or (mine and mine == theirs) or one.voice.casefold() in words:
            return one
    return loudest if loudest in magnetic else magnetic[0]


#: Columns of ``side_by_side.csv``.
COLUMNS = (
    "stage", "voice", "output", "against_voice", "against_output", "quantity", "unit", "difference",
    "ci_low", "ci_high", "n_notes", "hearing_threshold",
)  # fmt: skip


def side_by_side_table(stages: Iterable[StageVoices]) -> pd.DataFrame:
    """Return a row per stage, sound, what it stands against and quantity, as recorded."""
    rows: dict[tuple[object, ...], tuple[object, ...]] = {}
    for stage in stages:
        pairs = (*stage.against_loudest, *stage.splits, *stage.neighbours, *stage.outputs)
        for pair in pairs:
            for cell in pair.cells.values():
                key = (
                    stage.stage, pair.sound.voice, pair.sound.output, pair.against.voice,
                    pair.against.output, cell.quantity,
                )  # fmt: skip
                falls = cell.difference is not None and cell.difference < 0.0
                threshold = cell.threshold_low if falls else cell.threshold_high
                rows.setdefault(
                    key,
                    (
                        *key, cell.unit, cell.difference, cell.ci_low, cell.ci_high, cell.n_notes,
                        None if threshold is None else abs(threshold),
                    ),
                )  # fmt: skip
    return pd.DataFrame(list(rows.values()), columns=list(COLUMNS))
