"""Comparisons settled against what was recorded: sides that name a voice, sides without recording.

A dangling voice is an error like any dangling name; a voice that session.toml describes and nobody
has recorded yet leaves its comparison out, said as a remark.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.language import tr_later
from tonecompare.session.model import AGAIN, ComparedSide, ComparisonSpec, Recording, Session
from tonecompare.session.naming import closest, did_you_mean, listed, match_key
from tonecompare.session.toml.schema import Problems, dotted, quoted

#: Pairs of names that are looked at for likeness, and pairs that are told.
_MOST_GUESSED, _MOST_SHOWN = 2500, 6


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
                    tr_later(
                        'stage "{stage}" has no voice named "{voice}"; {voices} is allowed.{guess}',
                        stage=side.stage,
                        voice=side.voice,
                        voices=listed(there, join="or"),
                        guess=did_you_mean(side.voice, there),
                    ),
                )
            names[role] = ComparedSide(side.stage, found or side.voice).name
        if names["before"] == names["after"]:
            problems.add(
                dotted("comparisons", number),
                tr_later('before and after are both "{name}".', name=names["before"]),
            )
        settled.append(replace(spec, **names))
    problems.raise_if_any()
    return tuple(settled)


def settle_comparisons(session: Session) -> Session:
    """Drop comparisons that no recording supports; say which, and which voices have no partner."""
    kept, remarks = [], list(session.remarks)
    for spec in session.comparisons:
        one, other = listed([spec.before]), listed([spec.after])
        empty = [side.name for side in spec.sides if not _recorded(session, side)]
        if empty:
            remarks.append(
                tr_later(
                    "{one} and {other} are not compared: nothing is recorded at {stages} yet.",
                    one=one,
                    other=other,
                    stages=listed(empty),
                )
            )
            continue
        if spec.voice is None and not session.common_voices(*spec.stages):
            remarks.append(
                tr_later(
                    "{one} and {other} are not compared, as no voice was recorded at both: {why}",
                    one=one,
                    other=other,
                    why=no_common_voice(session, *spec.stages),
                )
            )
            continue
        controls = [s for s in (spec.control_before, spec.control_after) if s is not None]
        silent = [s for s in controls if not session.voices_of(s)]
        if silent:
            remarks.append(
                tr_later(
                    "{one} and {other} are compared without control: nothing is recorded at "
                    "{stages} yet.",
                    one=one,
                    other=other,
                    stages=listed(silent),
                )
            )
            spec = replace(spec, control_before=None, control_after=None)
        kept.append(spec)
    session = replace(session, comparisons=tuple(kept))
    remarks += _lonely_voices(session)
    return replace(session, remarks=tuple(dict.fromkeys(remarks)))


def _recorded(session: Session, side: ComparedSide) -> bool:
    there = session.voices_of(side.stage)
    return bool(there) if side.voice is None else side.voice in there


def voices_sentence(session: Session, before: str, after: str) -> str:
    """Return which voices each of two stages has."""
    each = tuple(
        tr_later("{stage} has {voices}", stage=listed([s]), voices=listed(session.voices_of(s)))
        for s in (before, after)
    )
    return tr_later("{each:; }", each=each)


def no_common_voice(session: Session, before: str, after: str) -> str:
    """Return the voices of two stages that share none, and which may be meant for each other."""
    meant = _meant(session.voices_of(before), session.voices_of(after))
    tip = (
        tr_later(
            "These look alike: {pairs}. {how}",
            pairs=_named(meant),
            how=how_to_map(meant, session.voices),
        )
        if meant
        else tr_later("Give the two recordings of one voice the same name in both folders.")
    )
    said = voices_sentence(session, before, after)
    return tr_later("{voices}. Voices are matched by file name. {tip}", voices=said, tip=tip)


def _meant(before: Sequence[str], after: Sequence[str]) -> dict[str, str]:
    """Return which voices of two stages look like each other, each at most once.

    Of hundreds of voices without partner nobody reads guesses, and they would take minutes.
    """
    found: dict[str, str] = {}
    if len(before) * len(after) <= _MOST_GUESSED:
        for name in before:
            near = closest(name, [v for v in after if v not in found.values()], cutoff=0.75)
            if near is not None:
                found[name] = near
    return found


def _lonely_voices(session: Session) -> list[str]:
    """Return sentences on voices that only one stage of a comparison has, alike ones as one."""
    remarks = []
    elsewhere: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for spec in session.comparisons:
        if spec.voice is not None:
            continue
        common = set(session.common_voices(*spec.stages))
        before, after = (
            [
                v
                for v in session.voices_of(s)
                if v not in common and v.removesuffix(AGAIN) not in common
            ]
            for s in spec.stages
        )
        meant = _meant(before, after)
        if meant:
            remarks.append(
                tr_later(
                    "Voices of {one} and {other} have no partner and look alike: {pairs}. {how}",
                    one=listed([spec.before]),
                    other=listed([spec.after]),
                    pairs=_named(meant),
                    how=how_to_map(meant, session.voices),
                )
            )
        for stage, missing, alone in (
            (spec.before, spec.after, [v for v in before if v not in meant]),
            (spec.after, spec.before, [v for v in after if v not in meant.values()]),
        ):
            if alone:
                elsewhere.setdefault((stage, tuple(alone)), []).append(missing)
    return [*remarks, *_alone(elsewhere)]


def _alone(elsewhere: Mapping[tuple[str, tuple[str, ...]], Sequence[str]]) -> list[str]:
    """Say which voices of which stage others lack, in one sentence."""
    if len(elsewhere) == 1:
        (((stage, voices), others),) = elsewhere.items()
        names, there = listed(voices), listed([stage])
        elsewhere_named = listed(dict.fromkeys(others), join="or")
        if len(voices) == 1:
            return [
                tr_later(
                    "Voice {voices} was recorded at {stage} and not at {others}: there is nothing "
                    "to compare it with.",
                    voices=names,
                    stage=there,
                    others=elsewhere_named,
                )
            ]
        return [
            tr_later(
                "Voices {voices} were recorded at {stage} and not at {others}: there is nothing to "
                "compare them with.",
                voices=names,
                stage=there,
                others=elsewhere_named,
            )
        ]
    told = tuple(
        tr_later(
            "{voices} of {stage} (not at {others})",
            voices=listed(voices),
            stage=listed([stage]),
            others=listed(dict.fromkeys(others), join="or"),
        )
        for (stage, voices), others in elsewhere.items()
    )
    if not told:
        return []
    return [tr_later("Voices with nothing to compare them with: {told:; }.", told=told)]


def _named(meant: Mapping[str, str]) -> str:
    pairs = tuple(
        tr_later("{one} and {other}", one=listed([one]), other=listed([other]))
        for one, other in meant.items()
    )
    more = len(pairs) - _MOST_SHOWN
    if more > 0:
        return tr_later("{pairs:; } and {n} more", pairs=pairs[:_MOST_SHOWN], n=more)
    return tr_later("{pairs:; }", pairs=pairs)


def how_to_map(meant: Mapping[str, str], described: Container[str] = ()) -> str:
    """Return how names that look alike are made one: by renaming, or in ``session.toml``."""
    lines = []
    for one, other in list(meant.items())[:_MOST_SHOWN]:
        name, file = (one, other) if one in described or len(one) <= len(other) else (other, one)
        lines.append(f"[{dotted('voices', name)}] files = [{quoted(file)}]")
    if len(lines) > 1:
        return tr_later(
            "If each pair is one voice, give both files one name, or write into session.toml "
            "beside the stage folders: {lines:; }",
            lines=tuple(lines),
        )
    return tr_later(
        "If they are one voice, give both files one name, or write into session.toml beside the "
        "stage folders: {lines:; }",
        lines=tuple(lines),
    )
