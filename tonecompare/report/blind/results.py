"""Result files of blind tests: read, checked and put together."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from tonecompare.compare.listening.pooled import Answers, PooledAnswers, holm, pool
from tonecompare.language import tr
from tonecompare.report.makers import MADE_BY_BLIND

#: Where results lie beside the recordings.
HEARD = "heard"
_TEXTS = (
    "page", "sounds", "task", "comparison", "voice", "output", "note", "listener", "started",
    "finished",
)  # fmt: skip
_ALLOWED = {"abx": {"A", "B"}, "triangle": {"A", "B", "C"}}
_LARGEST_BYTES = 200_000


@dataclass(frozen=True)
class BlindResult:
    """One finished test of one listener."""

    file: str
    sounds: str
    comparison: str
    voice: str
    output: str
    note: str
    check: str
    answers: Answers


@dataclass(frozen=True)
class Scored:
    """All tests of one pair of sounds."""

    comparison: str
    voice: str
    output: str
    note: str
    pooled: PooledAnswers


@dataclass(frozen=True)
class Refused:
    """A result file that is not counted, and why."""

    file: str
    why: str


def read_results(
    files: Iterable[Path],
) -> tuple[tuple[BlindResult, ...], tuple[Refused, ...]]:
    """Return the finished tests in these files, and the files that hold none."""
    found: dict[str, BlindResult] = {}
    refused = []
    for path in files:
        try:
            one = _read(path)
        except ValueError as error:
            refused.append(Refused(path.name, str(error)))
            continue
        if one.check in found:
            refused.append(
                Refused(path.name, tr("is the same test as {file}.", file=found[one.check].file))
            )
            continue
        found[one.check] = one
    return tuple(found.values()), tuple(refused)


def scored(results: Sequence[BlindResult]) -> tuple[Scored, ...]:
    """Put the tests of each pair of sounds together; p-values allow for the other pairs."""
    groups: dict[tuple[str, str], list[BlindResult]] = {}
    for one in results:
        groups.setdefault((one.sounds, one.answers.task), []).append(one)
    pooled = [pool([one.answers for one in group]) for group in groups.values()]
    adjusted = holm([one.p_value for one in pooled])
    return tuple(
        Scored(
            group[0].comparison,
            group[0].voice,
            group[0].output,
            group[0].note,
            replace(one, p_adjusted=p),
        )
        for group, one, p in zip(groups.values(), pooled, adjusted, strict=True)
    )


def heard_in(folder: Path) -> tuple[tuple[Scored, ...], tuple[Refused, ...]]:
    """Return what the results in a session's folder ``heard`` say."""
    results, refused = read_results(sorted((folder / HEARD).glob("*.json")))
    return scored(results), refused


def check_value(data: dict[str, Any]) -> str:
    """Return the SHA-256 over every answer and what the test was of."""
    told = [str(data[name]) for name in _TEXTS]
    # The page writes them in this order: the plan stands before the times.
    head = [str(data["schema"]), *told[:8], str(data["planned"]), *told[8:]]
    lines = [*head, *(f"{right}:{said}" for right, said in data["trials"])]
    return sha256("\n".join(lines).encode("utf-8")).hexdigest()


def _read(path: Path) -> BlindResult:
    try:
        # A pipe would be waited for, a device never ends.
        if (path.exists() and not path.is_file()) or path.stat().st_size > _LARGEST_BYTES:
            raise ValueError(tr("is no result of a blind test."))
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ValueError(tr("cannot be read ({why}).", why=error.strerror)) from error
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ValueError(tr("is no result of a blind test.")) from error
    if (
        not isinstance(data, dict)
        or data.get("made_by") != MADE_BY_BLIND
        or data.get("schema") != 1
    ):
        raise ValueError(tr("is no result of a blind test."))
    trials, planned = data.get("trials"), data.get("planned")
    texts = {name: data.get(name) for name in (*_TEXTS, "check")}
    whole = all(isinstance(text, str) for text in texts.values()) and isinstance(planned, int)
    if not (whole and _are_answers(trials, _ALLOWED.get(str(data.get("task")), set()))):
        raise ValueError(tr("is no result of a blind test."))
    answered: list[list[str]] = data["trials"]
    if check_value(data) != data["check"]:
        raise ValueError(tr("was changed or damaged after the test: its check value does not fit."))
    if len(answered) != planned:
        raise ValueError(
            tr(
                "holds {n} of {planned} questions: only whole tests count.",
                n=len(answered),
                planned=planned,
            )
        )
    right = sum(one == other for one, other in answered)
    answers = Answers(data["listener"], data["task"], right, len(answered))
    return BlindResult(
        path.name,
        data["sounds"],
        data["comparison"],
        data["voice"],
        data["output"],
        data["note"],
        data["check"],
        answers,
    )


def _are_answers(trials: Any, allowed: set[str]) -> bool:
    return (
        isinstance(trials, list)
        and bool(trials)
        and all(isinstance(p, list) and len(p) == 2 and set(map(str, p)) <= allowed for p in trials)
    )
