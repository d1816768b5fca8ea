"""Write the ``session.toml`` of a planned session, with comments that say what to fill in."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tonecompare.session.model import PLUCKS, TIMES, Voice, WorkItem, Worth
from tonecompare.session.plan.plan_model import Plan, PlannedStage
from tonecompare.session.toml.schema import dotted, quoted

_CONDITIONS = (
    ("interface_gain_db", "24", "gain of the input, or its knob position as you can find it again"),
    ("input_impedance_ohm", "1e6", "of the instrument input (1 MΩ is usual)"),
    ("cable_length_m", "3", ""),
    ("cable_pf_per_m", "100", "the maker states it; the cable shifts the pickup's resonance"),
    ("full_scale_volts", "1.9", "peak volts at the input that just reach full scale"),
    ("strings_gauge", '"10-46"', ""),
    ("strings_hours", "2", "hours played on this set"),
    ("pick", '"1 mm, 110 mm from the bridge"', ""),
    ("room", '"bench, facing the window"', "place and direction decide the hum"),
)


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


def _head(plan: Plan) -> Iterator[str]:
    yield "# What is recorded here. Lines with # are notes: take the # away to use a key."
    yield f"title = {quoted(plan.title)}"
    if plan.options.mains_hz is None:
        yield "# mains_hz = 50       # 50 or 60; left out, it is found in the recordings"
    else:
        yield f"mains_hz = {plan.options.mains_hz}"
    yield "a4_hz = 440           # what the tuner was set to"


def _plucks(plan: Plan) -> Iterator[str]:
    yield "# What every recording is to hold: each note so many times. `check` counts them."
    yield "[plan]"
    notes = dict.fromkeys(note.note for note in plan.notes)
    yield f"notes = [{', '.join(quoted(note) for note in notes)}]"
    yield f"repeats = {plan.options.repeats}"
    if plan.options.play != (PLUCKS,):
        play = ", ".join(quoted(kind) for kind in plan.options.play)
        yield f"play = [{play}]   # chords and riffs {TIMES} times each"


def _conditions(plan: Plan) -> Iterator[str]:
    yield "# How each session was recorded. Keep them equal; what differs here cannot be told from"
    yield "# the work. Fill in while you record."
    for number, stage in enumerate(plan.options.stages, start=1):
        yield f"[{dotted('conditions', _session_name(number))}]"
        for key, example, why in _CONDITIONS:
            gain = plan.options.gains_db.get(stage) if key == "interface_gain_db" else None
            line = f"# {key} = {example}" if gain is None else f"{key} = {gain:g}"
            yield f"{line:<44}# {why}" if why and number == 1 else line
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
        known = "# scale_length_mm = 648" if length is None else f"scale_length_mm = {length:g}"
        yield f"{known}   # nut to bridge; needed for pick and pickup places in mm"
        yield f"tuning = [{tuning}]   # lowest first"


def _stage(plan: Plan, stage: PlannedStage) -> Iterator[str]:
    if stage is plan.stages[0]:
        yield "# A stage is an instrument in one state of work. Its recordings lie in the folder of"
        yield "# the same name, one file per voice. The first voice comes once more at the end, as"
        yield f'# "{stage.order[-1].name}": what differs between the two is drift, not work.'
    yield f"[{dotted('stages', stage.folder)}]"
    yield f"instrument = {quoted(stage.instrument)}"
    if stage.from_folder is not None:
        yield f"from = {quoted(stage.from_folder)}"
    day = plan.options.dates.get(plan.stage_of(stage))
    known = "# date = 2026-03-01" if day is None else f"date = {day.isoformat()}"
    yield f"{known}      # the day it was recorded, without quotes"
    yield f"conditions = {quoted(_session_name(stage.session))}"
    yield f"again = {quoted(stage.order[0].name)}"
    if stage.control:
        yield "# A control: no work is done on this instrument between the sessions."
    elif stage.from_folder is not None:
        yield _work(plan.options.work.get(plan.stage_of(stage)))


def _work(item: WorkItem | None) -> str:
    if item is None:
        return '# work = [{what = "bridge pickup rewound", parts_cost = 18, hours = 2.5}]'
    numbers = (("parts_cost", item.parts_cost), ("hours", item.hours))
    told = "".join(f", {key} = {number:g}" for key, number in numbers if number)
    return f"work = [{{what = {quoted(item.what)}{told}}}]"


def _voice(voice: Voice) -> Iterator[str]:
    yield f"[{dotted('voices', voice.name)}]"
    if voice.pickups:
        yield f"pickups = [{', '.join(quoted(pickup) for pickup in voice.pickups)}]"
    if voice.split:
        yield "split = true"
    if len(voice.outputs) > 1:
        outputs = ", ".join(quoted(output) for output in voice.outputs)
        yield f"outputs = [{outputs}]   # channel 1, channel 2"
    else:
        yield f"output = {quoted(voice.outputs[0])}"
    if voice.outputs == ("magnetic",) and len(voice.pickups) == 1:
        yield "# pickup_distance_mm = 45   # its centre from the bridge"


def _comparisons(plan: Plan) -> Iterator[str]:
    yield "# Which stages to compare. A control shows what the day changed without any work."
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
    yield "# What the work is counted in, for the page that sets change against money and hours."
    if worth == Worth():
        yield from ("# [worth]", '# currency = "EUR"', "# hourly_rate = 60")
        return
    yield "[worth]"
    yield f"currency = {quoted(worth.currency)}" if worth.currency else '# currency = "EUR"'
    rate = worth.hourly_rate
    yield "# hourly_rate = 60" if rate is None else f"hourly_rate = {rate:g}"


def _session_name(number: int) -> str:
    return f"session-{number}"
