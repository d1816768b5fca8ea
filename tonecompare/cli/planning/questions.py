"""What ``plan`` asks, in order, and what each answer may be."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.session.model import PLAYED, PLUCKS, WorkItem, Worth
from tonecompare.session.plan.plan_model import PlanOptions
from tonecompare.session.plan.planned_session import make_plan
from tonecompare.session.plan.repeats import TYPICAL_SPREADS, spreads_with
from tonecompare.session.plan.selectors import (
    LAYOUTS,
    OUTPUT_CHOICES,
    check_file_name,
    planned_voices,
)
from tonecompare.session.plan.time_budget import within_minutes
from tonecompare.session.toml.read import answer_for
from tonecompare.session.toml.schema import number_text
from tonecompare.session.tunings import parse_tuning


@dataclass(frozen=True)
class Question:
    """One question: its key, its words, what an answer becomes, and what Enter means.

    ``parse`` raises :class:`InputError` with a sentence when the answer cannot be.
    """

    key: str
    words: str
    parse: Callable[[str], Any]
    default: str = ""
    #: Shown before the question, where an answer needs a list to choose from.
    hint: str = ""


_NONE_GIVEN = {
    "instrument": tr_later("no instrument is given; name at least one."),
    "stage": tr_later("no stage is given; name at least one."),
}


def split_list(text: str) -> tuple[str, ...]:
    """Split at commas; a text without commas is one entry."""
    return tuple(part.strip() for part in text.split(",") if part.strip())


def frets_of(text: str) -> tuple[int, ...]:
    """Return frets; the message says what a list of them looks like."""
    try:
        frets = tuple(int(part) for part in re.split(r"[,\s]+", text.strip()) if part)
    except ValueError as error:
        raise InputError(
            tr('frets: "{text}" is no list of whole numbers, like "0,5,12".', text=text)
        ) from error
    make_plan(PlanOptions(frets=frets))
    return frets


def day_of(text: str) -> date | None:
    """Return a date written year first, None for none."""
    if not text.strip():
        return None
    if text.strip().casefold() == "today":
        return date.today()
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(
            tr('"{text}" is no date; write year, month, day, like 2026-03-02, or today.', text=text)
        ) from error


def number_of(key: str) -> Callable[[str], float | None]:
    """Return what reads an answer as the number that a key of ``session.toml`` takes."""

    def read(text: str) -> float | None:
        if not text.strip():
            return None
        plain = text.strip().replace(",", ".")
        try:
            value: Any = float(plain)
        except ValueError:
            value = text
        found: float = answer_for(key, value)
        return found

    return read


def changes_of(texts: Sequence[str]) -> dict[str, float]:
    """Return the smallest changes that matter, by quantity, from texts like "level_dbfs=0.5"."""
    found = {}
    for text in texts:
        quantity, _, number = text.partition("=")
        try:
            found[quantity.strip()] = float(number)
        except ValueError as error:
            raise InputError(
                tr(
                    '--smallest-change "{text}": write the quantity, = and a number, like '
                    '"level_dbfs=0.5".',
                    text=text,
                )
            ) from error
    return found


def _level_change(text: str) -> float:
    plain = text.strip().casefold().removesuffix("db").strip().replace(",", ".")
    try:
        change = float(plain)
    except ValueError as error:
        raise InputError(tr('"{text}" is no number of decibels, like 0.5.', text=text)) from error
    spreads_with(changes={"level_dbfs": change})
    return change


def currency_of(text: str) -> str:
    """Return a currency as it is to stand beside numbers."""
    if any(sign.isdigit() for sign in text):
        raise InputError(
            tr('"{text}" is no currency; write its name or sign, like EUR.', text=text)
        )
    return text.strip()


def minutes_of(text: str) -> float | None:
    """Return minutes, None for none."""
    if not text.strip():
        return None
    match = re.fullmatch(r"(\d{1,4}(?:[.,]\d+)?)\s*(?:m|min|minutes)?", text.strip().casefold())
    if match is None or float(match[1].replace(",", ".")) == 0.0:
        raise InputError(tr('"{text}" is no time; write minutes, like 30.', text=text))
    return float(match[1].replace(",", "."))


def repeats_of(text: str) -> int:
    """Return plucks of each note."""
    if not re.fullmatch(r"\d{1,3}", text.strip()):
        raise InputError(tr('"{text}" is no whole number, like 5.', text=text))
    repeats = int(text)
    make_plan(PlanOptions(repeats=repeats))
    return repeats


def play_of(text: str) -> tuple[str, ...]:
    """Return what is played, each once."""
    kinds = tuple(dict.fromkeys(word.casefold() for word in split_list(text)))
    unknown = [kind for kind in kinds if kind not in PLAYED]
    if unknown or not kinds:
        kinds_told = ", ".join(PLAYED)
        raise InputError(
            tr('"{text}" is none of {kinds}, or several with commas.', text=text, kinds=kinds_told)
        )
    return kinds


def questions(given: Mapping[str, Any], answers: Mapping[str, Any]) -> Iterator[Question]:
    """Yield the questions, the next when the one before it stands in ``answers``.

    Parameters
    ----------
    given
        The options of the command line: what Enter keeps.
    answers
        Parsed answers by key, filled while this goes on.
    """
    yield from _what(given, answers)
    yield from _how_much(given, answers)
    yield from _for_the_report(given, answers)


def _what(given: Mapping[str, Any], answers: Mapping[str, Any]) -> Iterator[Question]:
    def names(kind: str, *, least: int = 1) -> Callable[[str], tuple[str, ...]]:
        def read(text: str) -> tuple[str, ...]:
            found = split_list(text)
            if len(found) < least:
                raise InputError(tr(_NONE_GIVEN[kind]))
            for name in found:
                check_file_name(name, kind)
            make_plan(_names_only(kind, found, answers))
            return found

        return read

    def outputs(text: str) -> str:
        planned_voices(answers["layout"], splits=answers["splits"], outputs=text.strip())
        return text.strip()

    yield Question(
        "instruments", tr("Instrument to be worked on"), names("instrument"),
        ", ".join(given["instruments"]),
    )  # fmt: skip
    yield Question(
        "controls", tr("An instrument recorded unchanged in every session, empty for none"),
        names("control", least=0), ", ".join(given["controls"]),
    )  # fmt: skip
    yield Question("stages", tr("Stages, in order"), names("stage"), ", ".join(given["stages"]))
    yield Question(
        "layout", tr("Selector"), layout_of, given["layout"],
        tr("Selector: {layouts}, or the names of its voices with commas",
           layouts=", ".join(LAYOUTS)),
    )  # fmt: skip
    yield Question(
        "splits", tr("Voices that can be split, empty for none"),
        lambda text: _splits(answers["layout"], text), ", ".join(given["splits"]),
    )  # fmt: skip
    yield Question(
        "outputs", tr("Outputs ({choices})", choices=", ".join(OUTPUT_CHOICES)), outputs,
        given["outputs"],
    )  # fmt: skip
    yield Question("tuning", tr("Open strings, lowest first"), parse_tuning, given["tuning"])


def _how_much(given: Mapping[str, Any], answers: Mapping[str, Any]) -> Iterator[Question]:
    def minutes(text: str) -> float | None:
        found = minutes_of(text)
        if found is not None:
            within_minutes(_sounds(answers), found)
        return found

    usual = TYPICAL_SPREADS["level_dbfs"].smallest_change
    told = changes_of(given["smallest_change"]).get("level_dbfs", usual)
    yield Question(
        "level_change", tr("Smallest change of level that matters to you, in dB"), _level_change,
        number_text(told),
    )  # fmt: skip
    yield Question(
        "play", tr("What to play in every recording"), play_of, ", ".join(given["play"]),
        tr(
            "plucks: single notes, most exact; chords: less to play; riff: what one plays anyway, "
            "shows least. Several with commas."
        ),
    )  # fmt: skip
    if PLUCKS not in answers["play"]:
        return
    yield Question(
        "minutes", tr("Minutes you have for a stage, empty to choose the plucks yourself"), minutes,
        given["minutes"] or "",
    )  # fmt: skip
    if answers["minutes"] is None:
        yield Question(
            "frets", tr("Frets to pluck on each string, 0 is the open string"), frets_of,
            given["frets"],
        )  # fmt: skip
        yield Question("repeats", tr("Plucks of each note"), repeats_of, str(given["repeats"]))


def _for_the_report(given: Mapping[str, Any], answers: Mapping[str, Any]) -> Iterator[Question]:
    first, *later = answers["stages"]
    hint = tr("What the report needs later. Enter leaves a line in session.toml to fill in.")
    day = tr("Day of the stage {stage}", stage=first)
    yield Question("date", day, day_of, given["date"] or "", hint)
    for name in (*answers["instruments"], *answers["controls"]):
        yield Question(
            f"scale of {name}",
            tr("Scale length of {instrument}, nut to bridge, in mm", instrument=name),
            number_of("scale_length_mm"), given["scale_length"] or "",
        )  # fmt: skip
    yield Question(
        "gain", tr("Gain of the interface in dB, or the number its knob points to"),
        number_of("interface_gain_db"), given["gain"] or "",
    )  # fmt: skip
    costs = False
    for stage in later:
        work = tr("Work that leads to {stage}", stage=stage)
        yield Question(f"work of {stage}", work, str.strip)
        if answers[f"work of {stage}"]:
            costs = True
            for key, words in (
                ("parts_cost", tr("what parts cost")), ("hours", tr("hours it takes")),
            ):  # fmt: skip
                yield Question(f"{key} of {stage}", f"  {words}", number_of(key))
    if costs:
        yield Question("currency", tr("Currency of these costs"), currency_of, "EUR")
        yield Question("hourly_rate", tr("What an hour of work costs"), number_of("hourly_rate"))


def layout_of(text: str) -> str | tuple[str, ...]:
    """Return the name of a known selector, or the voices of one."""
    name = text.strip()
    layout = name if name in LAYOUTS or "," not in name else split_list(name)
    planned_voices(layout)
    return layout


def _splits(layout: str | Sequence[str], text: str) -> tuple[str, ...]:
    splits = split_list(text)
    planned_voices(layout, splits=splits)
    return splits


def _names_only(kind: str, names: tuple[str, ...], answers: Mapping[str, Any]) -> PlanOptions:
    """Return options in which only names stand, so that doubles are found at once."""
    told = {key: answers[key] for key in ("instruments", "controls", "stages") if key in answers}
    return PlanOptions(**(told | {f"{kind}s": names}))


def _sounds(answers: Mapping[str, Any]) -> PlanOptions:
    return PlanOptions(**{key: answers[key] for key in ("layout", "splits", "outputs", "tuning")})


def told_of(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the answers for the report say, as :class:`PlanOptions` names it."""
    stages = answers["stages"]
    names = (*answers["instruments"], *answers["controls"])
    lengths = {name: answers.get(f"scale of {name}") for name in names}
    work = {
        stage: WorkItem(
            answers[f"work of {stage}"],
            answers.get(f"parts_cost of {stage}") or 0.0,
            answers.get(f"hours of {stage}") or 0.0,
        )
        for stage in stages
        if answers.get(f"work of {stage}")
    }
    return {
        "dates": {} if answers.get("date") is None else {stages[0]: answers["date"]},
        "scale_lengths_mm": {name: mm for name, mm in lengths.items() if mm is not None},
        "gains_db": {} if answers.get("gain") is None else {stages[0]: answers["gain"]},
        "work": work,
        "worth": Worth(answers.get("currency") or "", answers.get("hourly_rate")),
    }
