"""Comparisons settled against what was recorded: sides that name a voice, sides without recording.

A dangling voice is an error like any dangling name; a voice that session.toml describes and nobody
has recorded yet leaves its comparison out, said as a remark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.session.model import AGAIN, ComparedSide, ComparisonSpec, Recording, Session
from tonecompare.session.naming import closest, did_you_mean, listed, match_key
from tonecompare.session.toml.schema import Problems, dotted


def name_voices(
    comparisons: Sequence[ComparisonSpec],
    recordings: Sequence[Recording],
    *,
    described: Sequence[str],
    file: Path,
) -> tuple[ComparisonSpec, ...]:
    """Return comparisons whose voices go by the spelling of their recordings.

    Parameters
    ----------
    comparisons, recordings
        As named and as found.
    described
        Voices that session.toml describes; they need not be recorded yet.
    file
        The ``session.toml``, for messages.

    Raises
    ------
    SessionError
        When a side names a voice that its stage does not have.
    """
    problems = Problems(file)
    settled = []
    for number, spec in enumerate(comparisons, start=1):
        names = {}
        for role, side in zip(("before", "after"), spec.sides, strict=True):
            there = [one.voice for one in recordings if one.stage == side.stage]
            known = {match_key(name): name for name in (*described, *there)}
            if side.voice is None or (not there and not described):
                names[role] = side.name
                continue
            found = known.get(match_key(side.voice))
            if found is None:
                problems.add(
                    dotted("comparisons", number, role),
                    f'stage "{side.stage}" has no voice named "{side.voice}"; '
                    f"{listed(there, join='or')} is allowed."
                    f"{did_you_mean(side.voice, there)}",
                )
            names[role] = ComparedSide(side.stage, found or side.voice).name
        if names["before"] == names["after"]:
            problems.add(
                dotted("comparisons", number), f'before and after are both "{names["before"]}".'
            )
        settled.append(replace(spec, **names))
    problems.raise_if_any()
    return tuple(settled)


def settle_comparisons(session: Session) -> Session:
    """Drop comparisons that no recording supports; say which, and which voices have no partner."""
    kept, remarks = [], list(session.remarks)
    for spec in session.comparisons:
        sides = f"{listed([spec.before])} and {listed([spec.after])}"
        empty = [side.name for side in spec.sides if not _recorded(session, side)]
        if empty:
            remarks.append(f"{sides} are not compared: nothing is recorded at {listed(empty)} yet.")
            continue
        if spec.voice is None and not session.common_voices(*spec.stages):
            remarks.append(
                f"{sides} are not compared: no voice was recorded at both "
                f"({voices_sentence(session, *spec.stages)})."
            )
            continue
        controls = [s for s in (spec.control_before, spec.control_after) if s is not None]
        silent = [s for s in controls if not session.voices_of(s)]
        if silent:
            remarks.append(
                f"{sides} are compared without control: "
                f"nothing is recorded at {listed(silent)} yet."
            )
            spec = replace(spec, control_before=None, control_after=None)
        kept.append(spec)
        if spec.voice is None:
            remarks += _lonely_voices(session, spec)
    return replace(session, comparisons=tuple(kept), remarks=tuple(dict.fromkeys(remarks)))


def _recorded(session: Session, side: ComparedSide) -> bool:
    there = session.voices_of(side.stage)
    return bool(there) if side.voice is None else side.voice in there


def voices_sentence(session: Session, before: str, after: str) -> str:
    """Return which voices each of two stages has."""
    return "; ".join(f"{listed([s])} has {listed(session.voices_of(s))}" for s in (before, after))


def _lonely_voices(session: Session, spec: ComparisonSpec) -> list[str]:
    """Return a sentence for each voice that only one stage of a comparison has."""
    common = set(session.common_voices(spec.before, spec.after))
    only = {
        stage: [v for v in session.voices_of(stage) if v not in common]
        for stage in (spec.before, spec.after)
    }
    remarks = []
    for stage, other in ((spec.before, spec.after), (spec.after, spec.before)):
        for voice in only[stage]:
            if voice.removesuffix(AGAIN) in common:
                continue
            near = closest(voice, only[other], cutoff=0.75)
            guess = f" Is it {listed([near])} there? Then give both one name." if near else ""
            remarks.append(
                f"Voice {listed([voice])} was recorded at {listed([stage])} and not at "
                f"{listed([other])}: there is nothing to compare it with.{guess}"
            )
    return remarks
