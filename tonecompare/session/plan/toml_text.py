"""Write the ``session.toml`` of a planned session, with comments that say what to fill in."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from itertools import pairwise

from tonecompare.language import ENGLISH, language, tr, tr_later
from tonecompare.session.model import PLUCKS, TIMES, Voice, WorkItem, Worth
from tonecompare.session.plan.plan_model import Plan, PlannedStage
from tonecompare.session.toml.schema import dotted, number_text, quoted

_CONDITIONS = (
    (
        "interface_gain_db",
        "24",
        tr_later("gain of the input, or its knob position as you can find it again"),
    ),
    ("input_impedance_ohm", "1e6", tr_later("of the instrument input (1 MΩ is usual)")),
    ("cable_length_m", "3", ""),
    (
        "cable_pf_per_m",
        "100",
        tr_later("the maker states it; the cable shifts the pickup's resonance"),
    ),
    (
        "full_scale_volts",
        "1.9",
        tr_later("peak volts at the input that just reach full scale"),
    ),
    ("strings_gauge", '"10-46"', ""),
    ("strings_hours", "2", tr_later("hours played on this set")),
    ("pick", tr_later('"1 mm, 110 mm from the bridge"'), ""),
    (
        "room",
        tr_later('"bench, facing the window"'),
        tr_later("place and direction decide the hum"),
    ),
)
_WIDTH = 88


def session_toml(plan: Plan) -> str:
    """Return the text of ``session.toml``."""
    return "\n".join(
        line
        for part in (
            _head(plan),
            _plucks(plan),
            _conditions(plan),
            _instruments(plan),
            *(_stage(plan, stage) for stage in plan.stages),
            *(_voice(voice) for voice in plan.voices),
            _comparisons(plan),
            _worth(plan.options.worth),
        )
        for line in (*part, "")
    )


def _note(text: str) -> list[str]:
    """Return a note as lines of their own."""
    lines = textwrap.wrap(text, _WIDTH - 2, break_long_words=False, break_on_hyphens=False)
    return [f"# {line}" for line in lines]


def _with(line: str, note: str, *, at: int = 0) -> str:
    """Return a line with a note behind it, no nearer than column ``at``."""
    return f"{line:<{at}}# {note}"


def _head(plan: Plan) -> Iterator[str]:
    yield from _note(
        tr("What is recorded here. Lines with # are notes: take the # away to use a key.")
    )
    yield f"title = {quoted(plan.title)}"
    if language() != ENGLISH:
        yield f"language = {quoted(language())}"
    if plan.options.mains_hz is None:
        left_out = tr("50 or 60; left out, it is found in the recordings")
        yield _with("# mains_hz = 50", left_out, at=22)
    else:
        yield f"mains_hz = {plan.options.mains_hz}"
    yield _with("a4_hz = 440", tr("what the tuner was set to"), at=22)


def _plucks(plan: Plan) -> Iterator[str]:
    yield from _note(
        tr("What every recording is to hold: each note so many times. `check` counts them.")
    )
    yield "[plan]"
    notes = dict.fromkeys(note.note for note in plan.notes)
    yield f"notes = [{', '.join(quoted(note) for note in notes)}]"
    yield f"repeats = {plan.options.repeats}"
    if plan.options.play != (PLUCKS,):
        play = ", ".join(quoted(kind) for kind in plan.options.play)
        yield _with(f"play = [{play}]   ", tr("chords and riffs {n} times each", n=TIMES))


def _conditions(plan: Plan) -> Iterator[str]:
    yield from _note(
        tr(
            "How each session was recorded. Keep them equal; what differs here cannot be told from "
            "the work. Fill in while you record."
        )
    )
    for number, stage in enumerate(plan.options.stages, start=1):
        yield f"[{dotted('conditions', _session_name(number))}]"
        for key, example, why in _CONDITIONS:
            gain = plan.options.gains_db.get(stage) if key == "interface_gain_db" else None
            line = f"# {key} = {tr(example)}" if gain is None else f"{key} = {number_text(gain)}"
            yield _with(line, tr(why), at=44) if why and number == 1 else line
        if number < len(plan.options.stages):
            yield ""


def _instruments(plan: Plan) -> Iterator[str]:
    tuning = ", ".join(quoted(note) for note in plan.options.tuning)
    names = (*plan.options.instruments, *plan.options.controls)
    for index, name in enumerate(names):
        if index:
            yield ""
        yield f"[{dotted('instruments', name)}]"
        length = plan.options.scale_lengths_mm.get(name)
        known = (
            "# scale_length_mm = 648"
            if length is None
            else f"scale_length_mm = {number_text(length)}"
        )
        why = tr("nut to bridge; needed for pick and pickup places in mm")
        yield _with(f"{known}   ", why)
        yield _with(f"tuning = [{tuning}]   ", tr("lowest first"))


def _stage(plan: Plan, stage: PlannedStage) -> Iterator[str]:
    if stage is plan.stages[0]:
        yield from _note(
            tr(
                "A stage is an instrument in one state of work. Its recordings lie in the folder "
                "of the same name, one file per voice. The first voice comes once more at the end, "
                'as "{voice}": what differs between the two is drift, not work.',
                voice=stage.order[-1].name,
            )
        )
    yield f"[{dotted('stages', stage.folder)}]"
    yield f"instrument = {quoted(stage.instrument)}"
    if stage.from_folder is not None:
        yield f"from = {quoted(stage.from_folder)}"
    day = plan.options.dates.get(plan.stage_of(stage))
    known = "# date = 2026-03-01" if day is None else f"date = {day.isoformat()}"
    yield _with(f"{known}      ", tr("the day it was recorded, without quotes"))
    yield f"conditions = {quoted(_session_name(stage.session))}"
    yield f"again = {quoted(stage.order[0].name)}"
    if stage.control:
        yield from _note(tr("A control: no work is done on this instrument between the sessions."))
    elif stage.from_folder is not None:
        yield _work(plan.options.work.get(plan.stage_of(stage)))


def _work(item: WorkItem | None) -> str:
    if item is None:
        what = tr("bridge pickup rewound")
        return f"# work = [{{what = {quoted(what)}, parts_cost = 18, hours = 2.5}}]"
    numbers = (("parts_cost", item.parts_cost), ("hours", item.hours))
    told = "".join(f", {key} = {number_text(number)}" for key, number in numbers if number)
    return f"work = [{{what = {quoted(item.what)}{told}}}]"


def _voice(voice: Voice) -> Iterator[str]:
    yield f"[{dotted('voices', voice.name)}]"
    if voice.pickups:
        yield f"pickups = [{', '.join(quoted(pickup) for pickup in voice.pickups)}]"
    if voice.split:
        yield "split = true"
    if len(voice.outputs) > 1:
        outputs = ", ".join(quoted(output) for output in voice.outputs)
        yield _with(f"outputs = [{outputs}]   ", tr("channel 1, channel 2"))
    else:
        yield f"output = {quoted(voice.outputs[0])}"
    if voice.outputs == ("magnetic",) and len(voice.pickups) == 1:
        yield _with("# pickup_distance_mm = 45   ", tr("its centre from the bridge"))


def _comparisons(plan: Plan) -> Iterator[str]:
    yield from _note(
        tr("Which stages to compare. A control shows what the day changed without any work.")
    )
    for name in plan.options.instruments:
        line = [stage for stage in plan.stages if stage.instrument == name]
        pairs = list(pairwise(line))
        if len(line) > 2:
            pairs.append((line[0], line[-1]))
        for before, after in pairs:
            yield "[[comparisons]]"
            yield f"before = {quoted(before.folder)}"
            yield f"after = {quoted(after.folder)}"
            for role, stage in (("control_before", before), ("control_after", after)):
                control = _control_of(plan, stage)
                if control is not None:
                    yield f"{role} = {quoted(control.folder)}"


def _control_of(plan: Plan, stage: PlannedStage) -> PlannedStage | None:
    """Return the first control recorded in the session of a stage."""
    return next((s for s in plan.stages if s.control and s.session == stage.session), None)


def _worth(worth: Worth) -> Iterator[str]:
    yield from _note(
        tr("What the work is counted in, for the page that sets change against money and hours.")
    )
    if worth == Worth():
        yield from ("# [worth]", '# currency = "EUR"', "# hourly_rate = 60")
        return
    yield "[worth]"
    yield f"currency = {quoted(worth.currency)}" if worth.currency else '# currency = "EUR"'
    rate = worth.hourly_rate
    yield "# hourly_rate = 60" if rate is None else f"hourly_rate = {number_text(rate)}"


def _session_name(number: int) -> str:
    return f"session-{number}"
