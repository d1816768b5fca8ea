"""Read ``session.toml`` into the data of :mod:`tonecompare.session.model`.

What each key may hold stands in one table below; what keys say about each other is checked in
``crosscheck``. Every problem of the file is reported, not just the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path, PurePath
from typing import Any

from tonecompare.errors import InputError
from tonecompare.language import ENGLISH, languages, tr_later
from tonecompare.session.model import (
    AGAIN,
    OUTPUTS,
    PLAYED,
    STANDARD_TUNING,
    ComparisonSpec,
    Conditions,
    Instrument,
    PlannedPlucks,
    Stage,
    Voice,
    WorkItem,
    Worth,
)
from tonecompare.session.note_names import note_name, note_number
from tonecompare.session.sound_folders import AUDIO_SUFFIXES
from tonecompare.session.toml.crosscheck import check_names
from tonecompare.session.toml.schema import (
    BAD,
    Kind,
    ListOf,
    Named,
    Number,
    OneOf,
    Problems,
    Table,
    day,
    flag,
    shown,
    text,
)
from tonecompare.session.toml.text import read_toml

#: Name of the file in a session folder.
SESSION_FILE = "session.toml"


def _note(value: Any, key: str, problems: Problems) -> Any:
    """Accept one note name with octave."""
    try:
        return note_name(note_number(value if isinstance(value, str) else str(value)))
    except ValueError as error:
        return problems.add(
            key, tr_later("{why}. Allowed: a note name with octave, like E2.", why=error.args[0])
        )


def _tuning(value: Any, key: str, problems: Problems) -> Any:
    """Accept note names lowest first, as a list or as one text."""
    names = value.replace(",", " ").split() if isinstance(value, str) else value
    if not isinstance(names, list) or not names or len(names) > 24:
        return problems.add(
            key,
            tr_later(
                'found {found}; note names lowest first, like "{names: }".',
                found=shown(value),
                names=STANDARD_TUNING,
            ),
        )
    numbers = []
    for name in names:
        try:
            numbers.append(note_number(name if isinstance(name, str) else str(name)))
        except ValueError as error:
            return problems.add(
                key,
                tr_later(
                    "{why}. Allowed: note names with octave, lowest first.", why=error.args[0]
                ),
            )
    if len(numbers) > 1 and all(a > b for a, b in pairwise(numbers)):
        return problems.add(
            key,
            tr_later(
                "runs from {highest} down to {lowest}; write the lowest string first.",
                highest=str(names[0]),
                lowest=str(names[-1]),
            ),
        )
    return tuple(note_name(number) for number in numbers)


def _pattern(value: Any, key: str, problems: Problems) -> Any:
    """Accept what a file's name is held against, without folders."""
    name = text(value, key, problems)
    if name is not BAD and ("/" in name or "\\" in name):
        return problems.add(
            key,
            tr_later(
                "found {found}; it is held against the name of a file alone, no folders.",
                found=shown(value),
            ),
        )
    if name is BAD or PurePath(name).suffix.lower() not in AUDIO_SUFFIXES:
        return name
    return PurePath(name).stem


#: Notes of each voice that a report plays at most: more would not fit in a page.
MOST_HEARD = 6
_INCHES = (8.0, 40.0, tr_later("Did you give inches? 25.5 in are 647.7 mm."))
_DIGITS = tr_later("Check the digits.")
_CENTIMETRES = (40.0, 200.0, tr_later("Did you give cm?"))

_INSTRUMENT = Table(
    {
        "scale_length_mm": Number(250.0, 1300.0, "mm", (_INCHES, _CENTIMETRES)),
        "tuning": _tuning,
        "strings": Number(1, 24, whole=True),
        "model": text,
    }
)
_CONDITIONS = Table(
    {
        "interface_gain_db": Number(-100.0, 100.0, "dB"),
        "input_impedance_ohm": Number(
            1000.0,
            1e9,
            "ohm",
            (
                (0.01, 20.0, tr_later("Did you give MΩ?")),
                (20.0, 999.9, tr_later("Did you give kΩ?")),
            ),
        ),
        "cable_length_m": Number(0.0, 100.0, "m", ((100.0, 3000.0, tr_later("Did you give cm?")),)),
        "cable_pf_per_m": Number(
            10.0, 1000.0, "pF per metre", ((0.01, 1.0, tr_later("Did you give nF?")),)
        ),
        "full_scale_volts": Number(
            0.001, 100.0, "V", ((100.0, 1e5, tr_later("Did you give mV?")),)
        ),
        "strings_gauge": text,
        "strings_hours": Number(0.0, 10000.0, "hours"),
        "pick": text,
        "room": text,
    }
)
_WORK = Table(
    {
        "what": text,
        "parts_cost": Number(0.0, 1e7),
        "hours": Number(0.0, 10000.0, "hours"),
    },
    needed=("what",),
)
_HOURLY_RATE = Number(0.0, 1e6)
_STAGE = Table(
    {
        "instrument": text,
        "from": text,
        "date": day,
        "conditions": text,
        "work": ListOf(_WORK, shortest=0),
        "ratings": Named(Number(0.0, 10.0)),
        "again": text,
    }
)
_VOICE = Table(
    {
        "pickups": ListOf(text),
        "split": flag,
        "output": OneOf(OUTPUTS),
        "outputs": ListOf(OneOf(OUTPUTS), longest=2),
        "files": ListOf(_pattern),
        "pickup_distance_mm": Number(
            1.0, 1000.0, "mm", ((0.0, 0.99, tr_later("Did you give metres?")),)
        ),
    }
)
_COMPARISON = Table(
    {"before": text, "after": text, "control_before": text, "control_after": text},
    needed=("before", "after"),
)
_SESSION = Table(
    {
        "title": text,
        "language": OneOf(languages()),
        "listen": ListOf(_note, longest=MOST_HEARD),
        "mains_hz": OneOf((50, 60), "Hz"),
        "a4_hz": Number(
            380.0, 500.0, "Hz",
            ((0.38, 0.5, tr_later("Did you give kHz?")), (3.8, 50.0, _DIGITS)),
        ),
        "conditions": Named(_CONDITIONS),
        "instruments": Named(_INSTRUMENT),
        "stages": Named(_STAGE),
        "voices": Named(_VOICE),
        "comparisons": ListOf(_COMPARISON, longest=999),
        "plan": Table(
            {
                "notes": ListOf(_note, longest=999),
                "repeats": Number(1, 999, whole=True),
                "play": ListOf(OneOf(PLAYED)),
            },
            needed=("notes", "repeats"),
        ),
        "worth": Table({"currency": text, "hourly_rate": _HOURLY_RATE}),
        "hearing_thresholds": Named(Number(1e-6, 1e6)),
    }
)  # fmt: skip


#: Keys that somebody may be asked for one by one.
_ASKED: Mapping[str, Kind] = {
    key: table.keys[key]
    for table, keys in (
        (_INSTRUMENT, ("scale_length_mm",)),
        (_CONDITIONS, ("interface_gain_db",)),
        (_WORK, ("parts_cost", "hours")),
    )
    for key in keys
} | {"hourly_rate": _HOURLY_RATE}


def answer_for(key: str, value: Any) -> Any:
    """Return what one key holds when somebody answers ``value``.

    Raises
    ------
    InputError
        When the key may not hold that; the message says what was found and what is allowed.
    """
    problems = Problems(Path(SESSION_FILE))
    used = _ASKED[key](value, key, problems)
    if problems.found:
        raise InputError(problems.found[0][1])
    return used


@dataclass(frozen=True)
class SessionFile:
    """What ``session.toml`` says, before anyone looked for recordings."""

    path: Path
    title: str
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    conditions: Mapping[str, Conditions] = field(default_factory=dict)
    stages: Mapping[str, Stage] = field(default_factory=dict)
    voices: Mapping[str, Voice] = field(default_factory=dict)
    comparisons: tuple[ComparisonSpec, ...] = ()
    worth: Worth = field(default_factory=Worth)
    mains_hz: float | None = None
    a4_hz: float = 440.0
    hearing_thresholds: Mapping[str, float] = field(default_factory=dict)
    planned: PlannedPlucks | None = None
    language: str = ENGLISH
    listen: tuple[str, ...] = ()


def read_session_toml(path: Path) -> SessionFile:
    """Return what a ``session.toml`` says.

    Parameters
    ----------
    path
        The file. Stage folders are taken to stand beside it.

    Raises
    ------
    SessionError
        With every unknown key, wrong type, impossible value and dangling name at once: file,
        dotted key, what was found, what is allowed.
    """
    raw = read_toml(path)
    problems = Problems(path)
    used = _SESSION(raw, "", problems)
    check_names(used, raw, problems)
    problems.raise_if_any()
    return _build(used, path)


def _build(used: Mapping[str, Any], path: Path) -> SessionFile:
    mains = used.get("mains_hz")
    return SessionFile(
        path=path,
        title=used.get("title", path.resolve().parent.name),
        instruments={
            name: Instrument(name, **{k: v for k, v in each.items() if k != "strings"})
            for name, each in used.get("instruments", {}).items()
        },
        conditions={n: Conditions(n, **each) for n, each in used.get("conditions", {}).items()},
        stages={n: _stage(n, each, used, path) for n, each in used.get("stages", {}).items()},
        voices={n: _voice(n, each) for n, each in used.get("voices", {}).items()},
        comparisons=tuple(ComparisonSpec(**each) for each in used.get("comparisons", ())),
        worth=Worth(**used.get("worth", {})),
        mains_hz=None if mains is None else float(mains),
        a4_hz=used.get("a4_hz", 440.0),
        hearing_thresholds=used.get("hearing_thresholds", {}),
        planned=PlannedPlucks(**used["plan"]) if "plan" in used else None,
        language=used.get("language", ENGLISH),
        listen=used.get("listen", ()),
    )


def _stage(name: str, each: Mapping[str, Any], used: Mapping[str, Any], path: Path) -> Stage:
    only = next(iter(used.get("instruments", {})), "")
    return Stage(
        name=name,
        instrument=each.get("instrument", only),
        folder=path.parent / name,
        from_stage=each.get("from"),
        date=each.get("date"),
        conditions=each.get("conditions"),
        work=tuple(WorkItem(**item) for item in each.get("work", ())),
        ratings=each.get("ratings", {}),
        again=each.get("again", "").removesuffix(AGAIN),
    )


def _voice(name: str, each: Mapping[str, Any]) -> Voice:
    outputs = each.get("outputs") or ((each["output"],) if "output" in each else None)
    keys = {k: v for k, v in each.items() if k not in ("output", "outputs")}
    return Voice(name, **keys) if outputs is None else Voice(name, outputs=outputs, **keys)
