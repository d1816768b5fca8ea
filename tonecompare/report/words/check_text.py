"""What a check says, as words and as JSON: one place for terminal, page and file."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from tonecompare.compare.check import smallest_shown
from tonecompare.compare.check.check_results import (
    SEVERITIES,
    CheckResult,
    Fault,
    Resolved,
    StageAnswer,
)
from tonecompare.language import language, tr, tr_later, tr_n
from tonecompare.report.makers import MADE_BY_CHECK
from tonecompare.report.words.check_words.fault_told import kind_told, told
from tonecompare.report.words.check_words.held_words import held_sentence
from tonecompare.report.words.check_words.played_words import events_counted
from tonecompare.report.words.numbers import number, unit_word

#: Schema of the JSON a check writes.
SCHEMA = 1
ANSWER_WORDS = {
    "go": tr_later("Go: the takes are good. This stage may be taken apart."),
    "reservations": tr_later("Go, with reservations: read the doubts below and decide."),
    "no-go": tr_later("No-go: record first what is listed; do not take this stage apart yet."),
}
SEVERITY_WORDS = {
    "again": tr_later("record again"),
    "doubt": tr_later("look at it"),
    "note": tr_later("good to know"),
}
#: Of faults told once, so many other places are named.
_PLACES_NAMED = 6
_SHORT = {
    "level_dbfs": tr_later("level"),
    "centroid_hz": tr_later("brightness"),
    "shape_0125_db": tr_later("bass"),
    "shape_1000_db": tr_later("mids"),
    "shape_4000_db": tr_later("presence"),
    "decay_s": tr_later("decay"),
    "cents": tr_later("pitch"),
    "hum_dbfs": tr_later("hum"),
    "hiss_dbfs": tr_later("hiss"),
}
#: Why nothing can be said of the smallest difference.
_WHY_UNKNOWN = {
    "": "",
    smallest_shown.NO_VALUE: tr_later("not measured on any pluck"),
    smallest_shown.FEW_REPEATS: tr_later("too few repeats to know the spread"),
    smallest_shown.NO_VARIATION: tr_later("the plucks do not differ at all: copies?"),
    smallest_shown.ONE_PLUCK: tr_later("one note plucked once"),
    smallest_shown.NO_STRETCH: tr_later("not measured"),
}
WHAT_IT_SHOWS = tr_later(
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
            return tr_n("{n} place", "{n} places", len(self.faults))
        if len(files) > 1:
            return tr_n("{n} file", "{n} files", len(files))
        return _short_name(self.fault)

    def likewise(self) -> str:
        """Return a sentence that names the other places, the rest counted; "" without any."""
        others = [where(fault) for fault in self.faults[1:]]
        if not others:
            return ""
        shown = ", ".join(others[:_PLACES_NAMED])
        rest = len(others) - _PLACES_NAMED
        if rest > 0:
            return tr("Likewise: {places} and {n} more.", places=shown, n=rest)
        return tr("Likewise: {places}.", places=shown)


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
        if fault.time_s is None:
            return name
        return tr("{file} at {time} s", file=name, time=number(fault.time_s, 1))
    return fault.voice or fault.stage


def again_rows(answer: StageAnswer) -> list[tuple[str, str]]:
    """Return what to record again and why, a row per file or voice."""
    kinds: dict[str, list[str]] = {}
    for voice, file, kind in answer.again:
        name = file.removeprefix(f"{answer.stage}/") or voice or tr("the whole stage")
        kinds.setdefault(name, []).append(kind_told(kind))
    return [(name, ", ".join(dict.fromkeys(of))) for name, of in kinds.items()]


def again_by_reason(answer: StageAnswer) -> list[tuple[str, list[str]]]:
    """Return why to record again and the files or voices it holds for, a row per reason."""
    reasons: dict[str, list[str]] = {}
    for name, kinds in again_rows(answer):
        reasons.setdefault(kinds, []).append(name)
    return list(reasons.items())


def resolved_headings(answers: Sequence[StageAnswer]) -> tuple[str, ...]:
    """Return the headings of the table of what the takes can show, after voice."""
    return tuple(tr(_SHORT[name]) for name in _resolved(answers))


def _resolved(answers: Sequence[StageAnswer]) -> list[str]:
    """Return the quantities that some take can show: a riff shows no decay."""
    known = {one.quantity for each in answers for one in each.resolved if one.smallest is not None}
    return [name for name in _SHORT if name in known]


def resolved_rows(
    answer: StageAnswer, answers: Sequence[StageAnswer]
) -> list[tuple[str, tuple[str, ...]]]:
    """Return a row per voice and output: its name and a cell per heading of ``answers``."""
    by_voice: dict[tuple[str, str], dict[str, Resolved]] = {}
    for one in answer.resolved:
        by_voice.setdefault((one.voice, one.output), {})[one.quantity] = one
    several = {voice for voice, _ in by_voice if sum(v == voice for v, _ in by_voice) > 1}
    return [
        (
            f"{voice} ({tr(output)})" if voice in several else voice,
            tuple(_cell(found.get(name)) for name in _resolved(answers)),
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
    size = f"< {number(0.01, 2)}" if small else number(one.smallest, decimals)
    text = f"{size} {unit_word(one.unit)}"
    enough = one.threshold is not None and one.smallest <= one.threshold
    return f"{text} ✓" if enough else text


def unknown_reasons(answer: StageAnswer) -> list[str]:
    """Return why cells are empty, a sentence per reason."""
    reasons: dict[str, list[str]] = {}
    for one in answer.resolved:
        if one.smallest is None and one.reason:
            reasons.setdefault(_WHY_UNKNOWN[one.reason], []).append(
                f"{one.voice} {tr(_SHORT[one.quantity])}"
            )
    return [
        f"{', '.join(names[:4])}{' …' if len(names) > 4 else ''}: {tr(reason)}."
        for reason, names in reasons.items()
    ]


def headline(answer: StageAnswer) -> str:
    """Return what was looked at and what came out, one sentence."""
    kinds = {s: sum(f.severity == s for f in answer.faults) for s in SEVERITY_WORDS}
    found = ", ".join(f"{n} × {tr(SEVERITY_WORDS[s])}" for s, n in kinds.items() if n)
    return tr(
        "{files}, {played}: {found}.",
        files=tr_n("{n} file", "{n} files", answer.n_files),
        played=_events(answer),
        found=found or tr("no faults"),
    )


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
                asdict(each) | {"reason": tr(_WHY_UNKNOWN[each.reason])} for each in one.resolved
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
        "left_out": [{"file": item.file, "reason": tr(item.reason)} for item in result.left_out],
        "language": language(),
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
