"""What a check says, as words and as JSON: one place for terminal, page and file."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass

from tonecompare.compare.check import smallest_shown
from tonecompare.compare.check.check_results import (
    SEVERITIES,
    CheckResult,
    Fault,
    Resolved,
    StageAnswer,
)
from tonecompare.report.makers import MADE_BY_CHECK
from tonecompare.report.words.check_words.fault_told import told
from tonecompare.report.words.check_words.held_words import held_sentence
from tonecompare.report.words.check_words.played_words import events_counted
from tonecompare.report.words.numbers import count, number

#: Schema of the JSON a check writes.
SCHEMA = 1
ANSWER_WORDS = {
    "go": "Go: the takes are good. This stage may be taken apart.",
    "reservations": "Go, with reservations: read the doubts below and decide.",
    "no-go": "No-go: record first what is listed; do not take this stage apart yet.",
}
SEVERITY_WORDS = {"again": "record again", "doubt": "look at it", "note": "good to know"}
#: Of faults told once, so many other places are named.
_PLACES_NAMED = 6
_SHORT = {
    "level_dbfs": "level",
    "centroid_hz": "brightness",
    "h02_db": "partial 2",
    "h05_db": "partial 5",
    "decay_s": "decay",
    "cents": "pitch",
    "hum_dbfs": "hum",
    "hiss_dbfs": "hiss",
}
#: Why nothing can be said of the smallest difference.
_WHY_UNKNOWN = {
    "": "",
    smallest_shown.NO_VALUE: "not measured on any pluck",
    smallest_shown.FEW_REPEATS: "too few repeats to know the spread",
    smallest_shown.NO_VARIATION: "the plucks do not differ at all: copies?",
    smallest_shown.ONE_PLUCK: "one note plucked once",
    smallest_shown.NO_STRETCH: "not measured",
}
WHAT_IT_SHOWS = (
    "The smallest difference that a second stage, recorded with as many plucks, would show in four "
    "cases of five, if it is the same on every note. A mark (✓) stands where it is below the "
    "hearing threshold: these takes show what can be heard. Another day, another place and new "
    "strings add to it; only a control shows by how much."
)


@dataclass(frozen=True)
class Grouped:
    """Faults of one kind with one remedy, told once: in how many files or voices, and where."""

    faults: tuple[Fault, ...]

    @property
    def fault(self) -> Fault:
        """The first of them, which speaks for all."""
        return self.faults[0]

    def place(self) -> str:
        """Return where it is, or in how many files: ``bridge.wav at 2.0 s``, ``7 files``."""
        if len(self.faults) == 1:
            return where(self.fault)
        files = {fault.file for fault in self.faults}
        if "" in files:
            return count(len(self.faults), "place")
        return count(len(files), "file") if len(files) > 1 else _short_name(self.fault)

    def likewise(self) -> str:
        """Return a sentence that names the other places, the rest counted; "" without any."""
        others = [where(fault) for fault in self.faults[1:]]
        if not others:
            return ""
        shown = ", ".join(others[:_PLACES_NAMED])
        rest = len(others) - _PLACES_NAMED
        return f"Likewise {shown}" + (f" and {rest} more." if rest > 0 else ".")


def grouped(faults: Iterable[Fault]) -> list[Grouped]:
    """Return the faults, worst first, those with the same reason and remedy told once."""
    groups: dict[tuple[str, ...], list[Fault]] = {}
    for fault in faults:
        said = told(fault)
        groups.setdefault((fault.severity, fault.kind, said.why, said.remedy), []).append(fault)
    ranked = sorted(groups.values(), key=lambda same: SEVERITIES.index(same[0].severity))
    return [Grouped(tuple(same)) for same in ranked]


def _short_name(fault: Fault) -> str:
    return fault.file.removeprefix(f"{fault.stage}/")


def where(fault: Fault) -> str:
    """Return where a fault is: the file and the time, or the voice, or the stage."""
    if fault.file:
        name = _short_name(fault)
        return name if fault.time_s is None else f"{name} at {fault.time_s:.1f} s"
    return fault.voice or fault.stage


def again_rows(answer: StageAnswer) -> list[tuple[str, str]]:
    """Return what to record again and why, a row per file or voice."""
    kinds: dict[str, list[str]] = {}
    for voice, file, kind in answer.again:
        name = file.removeprefix(f"{answer.stage}/") or voice or "the whole stage"
        kinds.setdefault(name, []).append(kind)
    return [(name, ", ".join(dict.fromkeys(of))) for name, of in kinds.items()]


def again_by_reason(answer: StageAnswer) -> list[tuple[str, list[str]]]:
    """Return why to record again and the files or voices it holds for, a row per reason."""
    reasons: dict[str, list[str]] = {}
    for name, kinds in again_rows(answer):
        reasons.setdefault(kinds, []).append(name)
    return list(reasons.items())


def resolved_headings() -> tuple[str, ...]:
    """Return the headings of the table of what the takes can show, after voice."""
    return tuple(_SHORT.values())


def resolved_rows(answer: StageAnswer) -> list[tuple[str, tuple[str, ...]]]:
    """Return a row per voice and output: its name and a cell per quantity."""
    by_voice: dict[tuple[str, str], dict[str, Resolved]] = {}
    for one in answer.resolved:
        by_voice.setdefault((one.voice, one.output), {})[one.quantity] = one
    several = {voice for voice, _ in by_voice if sum(v == voice for v, _ in by_voice) > 1}
    return [
        (
            f"{voice} ({output})" if voice in several else voice,
            tuple(_cell(found.get(name)) for name in _SHORT),
        )
        for (voice, output), found in by_voice.items()
    ]


def _cell(one: Resolved | None) -> str:
    if one is None or one.smallest is None:
        return "–"
    decimals = 1 if one.smallest < 9.5 else 0
    if one.smallest < 0.095:
        decimals = 2
    small = one.smallest < 0.005
    text = f"{'< 0.01' if small else number(one.smallest, decimals)} {one.unit}"
    enough = one.threshold is not None and one.smallest <= one.threshold
    return f"{text} ✓" if enough else text


def unknown_reasons(answer: StageAnswer) -> list[str]:
    """Return why cells are empty, a sentence per reason."""
    reasons: dict[str, list[str]] = {}
    for one in answer.resolved:
        if one.smallest is None and one.reason:
            reasons.setdefault(_WHY_UNKNOWN[one.reason], []).append(
                f"{one.voice} {_SHORT[one.quantity]}"
            )
    return [
        f"{', '.join(names[:4])}{' …' if len(names) > 4 else ''}: {reason}."
        for reason, names in reasons.items()
    ]


def headline(answer: StageAnswer) -> str:
    """Return what was looked at and what came out, one sentence."""
    kinds = {s: sum(f.severity == s for f in answer.faults) for s in SEVERITY_WORDS}
    found = ", ".join(f"{n} × {SEVERITY_WORDS[s]}" for s, n in kinds.items() if n) or "no faults"
    return f"{count(answer.n_files, 'file')}, {_events(answer)}: {found}."


def _events(answer: StageAnswer) -> str:
    """Count single notes, chords and riffs of a stage."""
    played = [name for one in answer.played for name in [one.name] * one.times]
    return events_counted([*played, *[""] * (answer.n_plucks - len(played))])


def check_json(result: CheckResult) -> str:
    """Return the whole result as JSON text; what is unknown is null."""
    stages = [
        {
            "stage": one.stage,
            "answer": one.answer,
            "files": one.n_files,
            "plucks": one.n_plucks,
            "record_again": [
                {"voice": voice, "file": file, "kind": kind} for voice, file, kind in one.again
            ],
            "faults": [_fault_json(fault) for fault in one.faults],
            "held_still": [held_sentence(held) for held in one.held],
            "played": [asdict(each) for each in one.played],
            "can_show": [
                asdict(each) | {"reason": _WHY_UNKNOWN[each.reason]} for each in one.resolved
            ],
        }
        for one in result.stages
    ]
    data = {
        "made_by": MADE_BY_CHECK,
        "kind": "check",
        "schema": SCHEMA,
        "title": result.title,
        "stages": stages,
        "left_out": [{"file": item.file, "reason": item.reason} for item in result.left_out],
    }
    return json.dumps(_without_nan(data), ensure_ascii=False, indent=1) + "\n"


def _fault_json(fault: Fault) -> dict[str, object]:
    return {
        "kind": fault.kind,
        "severity": fault.severity,
        "stage": fault.stage,
        "voice": fault.voice,
        "file": fault.file,
        "time_s": fault.time_s,
        **asdict(told(fault)),
        "plucks": list(fault.plucks),
    }


def _without_nan(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _without_nan(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_without_nan(each) for each in value]
    return value
