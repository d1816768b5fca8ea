"""Which stages are compared, and which voices of a guitar that stands alone."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from tonecompare.compare.selector import is_whole_magnetic, selector_place, whole_of
from tonecompare.measure.model import Measurements
from tonecompare.session.model import AGAIN, ComparedSide, ComparisonSpec, Session


def planned_comparisons(session: Session) -> tuple[ComparisonSpec, ...]:
    """Return the comparisons of a session; without any, each stage against the one it came from."""
    if session.comparisons:
        return session.comparisons
    return tuple(
        ComparisonSpec(stage.from_stage, name)
        for name, stage in session.stages.items()
        if stage.from_stage in session.stages and stage.from_stage is not None
    )


def with_voice_pairs(session: Session, measurements: Measurements) -> Session:
    """Return the session of a single stage with its voices set side by side.

    Every voice against the loudest, every split against its whole, and every whole voice of
    magnetic pickups against its neighbour on the selector. The loudest has the highest mean level
    over the notes that all voices have, each note weighing the same.

    Parameters
    ----------
    session, measurements
        As recorded and measured. A session with comparisons, or with several stages, stays as it
        is.
    """
    stages = {one.stage for one in session.recordings}
    if planned_comparisons(session) or len(stages) != 1:
        return session
    stage = stages.pop()
    levels = _levels(measurements, stage)
    voices = sorted(
        (name for name in levels if not name.endswith(AGAIN)),
        key=lambda name: selector_place(session, name),
    )
    if len(voices) < 2:
        return session
    loudest = max(voices, key=lambda name: levels[name])
    whole = [name for name in voices if is_whole_magnetic(session, name)]
    wanted = [
        *((loudest, name) for name in voices if name != loudest),
        *((whole_of(session, name, voices), name) for name in voices),
        *pairwise(whole),
    ]
    pairs: dict[frozenset[str], tuple[str, str]] = {}
    for pair in wanted:
        if all(pair):
            pairs.setdefault(frozenset(pair), pair)
    return replace(
        session,
        comparisons=tuple(
            ComparisonSpec(*(ComparedSide(stage, name).name for name in pair))
            for pair in pairs.values()
        ),
    )


def _levels(measurements: Measurements, stage: str) -> dict[str, float]:
    """Mean level (dBFS) of each voice's loudest output, over the notes all voices have."""
    levels: dict[str, float] = {}
    for (voice, _), level in levels_of_sounds(measurements, stage).items():
        levels[voice] = max(level, levels.get(voice, level))
    return levels


def levels_of_sounds(measurements: Measurements, stage: str) -> dict[tuple[str, str], float]:
    """Return the mean level (dBFS) of each voice and output, over the notes all of them have."""
    plucks = measurements.plucks
    if not len(plucks):
        return {}
    of = plucks[(plucks["stage"] == stage) & (plucks["note"] != "")]
    if not len(of):
        return {}
    by_note = of.groupby(["voice", "output", "note"], sort=False)["level_dbfs"].mean()
    table = by_note.unstack("note")
    shared = table.dropna(axis="columns")
    means = (shared if shared.shape[1] else table).mean(axis="columns")
    known = means.dropna()
    return {
        (str(voice), str(output)): float(level)
        for voice, output, level in zip(
            known.index.get_level_values("voice"),
            known.index.get_level_values("output"),
            known,
            strict=True,
        )
    }
