"""What entries of ``session.toml`` say about each other: dangling names, contradictions.

Works on the tables after each key was checked alone, so a key may be absent because it was bad;
``raw`` tells whether it was given at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tonecompare.language import tr_later
from tonecompare.session.model import AGAIN, ComparedSide
from tonecompare.session.naming import did_you_mean, listed, match_key
from tonecompare.session.toml.schema import Problems, dotted

Tables = Mapping[str, Any]


def check_names(used: dict[str, Any], raw: Tables, problems: Problems) -> None:
    """Note every contradiction; names are put right in place where only upper case differs."""
    _check_instruments(used, raw, problems)
    _check_voices(used, problems)
    _check_stages(used, raw, problems)
    _check_origins(used.get("stages", {}), used.get("instruments", {}), problems)
    if raw.get("stages"):  # without, the stages are the folders, which are looked at later
        check_comparisons(used.get("comparisons", []), used.get("stages", {}), problems)


def _settle(
    entry: dict[str, Any], name: str, key: str, known: Iterable[str], kind: str, problems: Problems
) -> bool:
    """Let ``entry[name]`` name one of ``known``; note a problem and return False if it does not."""
    known = tuple(known)
    # Texts are read without the blanks around them; a folder's name may have some all the same.
    by_key = {match_key(each.strip()): each for each in known}
    by_key |= {match_key(each): each for each in known}
    found = by_key.get(match_key(entry[name]))
    if found is not None:
        entry[name] = found
        return True
    table = "stages" if kind == "stage" else kind if kind.endswith("s") else f"{kind}s"
    there = (
        tr_later("{names} is allowed", names=listed(known, join="or"))
        if known
        else tr_later("[{table}] names none", table=table)
    )
    guess = did_you_mean(entry[name], known)
    problems.add(
        key,
        tr_later(
            'no {kind} is named "{name}"; {there}.{guess}',
            kind=kind,
            name=entry[name],
            there=there,
            guess=guess,
        ),
    )
    return False


def _check_instruments(used: Tables, raw: Tables, problems: Problems) -> None:
    spelt: dict[str, str] = {}
    for name, each in used.get("instruments", {}).items():
        if "model" in each:
            each["model"] = spelt.setdefault(match_key(each["model"]), each["model"])
        if "strings" not in each:
            continue
        count, key = each["strings"], dotted("instruments", name, "strings")
        tuning = each.get("tuning")
        if "tuning" in _raw_entry(raw, "instruments", name) and tuning is None:
            continue  # what is wrong with the tuning was said already
        if tuning is None and count != 6:
            problems.add(
                key,
                tr_later("found {n} and no tuning; give the {n} notes as tuning too.", n=count),
            )
        elif tuning is not None and count != len(tuning):
            problems.add(
                key,
                tr_later("found {n}, but tuning names {named} notes.", n=count, named=len(tuning)),
            )


def _check_voices(used: Tables, problems: Problems) -> None:
    scales = [
        each["scale_length_mm"]
        for each in used.get("instruments", {}).values()
        if "scale_length_mm" in each
    ]
    for name, each in used.get("voices", {}).items():
        key = dotted("voices", name)
        if "output" in each and "outputs" in each:
            problems.add(
                key,
                tr_later('give "output" (one channel) or "outputs" (one per channel), not both.'),
            )
        outputs = each.get("outputs", ())
        if len(set(outputs)) < len(outputs):
            problems.add(
                f"{key}.outputs",
                tr_later("both channels carry {output}.", output=listed(outputs[:1])),
            )
        distance = each.get("pickup_distance_mm")
        if distance is not None and scales and distance >= max(scales):
            problems.add(
                f"{key}.pickup_distance_mm",
                tr_later(
                    "found {found}, which is more than the scale length of {scale} mm; it counts "
                    "from the bridge.",
                    found=f"{distance:g}",
                    scale=f"{max(scales):g}",
                ),
            )


def _check_stages(used: Tables, raw: Tables, problems: Problems) -> None:
    stages, instruments = used.get("stages", {}), used.get("instruments", {})
    voices = used.get("voices", {})
    for name, each in stages.items():
        key = dotted("stages", name)
        if any(mark in name for mark in "/\\") or name in (".", "..") or name.startswith("."):
            problems.add(
                key, tr_later("a stage is named like its folder beside session.toml, no path.")
            )
        if "instrument" in each:
            _settle(each, "instrument", f"{key}.instrument", instruments, "instrument", problems)
        elif "instrument" not in _raw_entry(raw, "stages", name) and len(instruments) != 1:
            problems.add(
                key,
                tr_later(
                    'the key "instrument" is missing; every stage names one ({names}).',
                    names=listed(instruments, join="or"),
                )
                if instruments
                else tr_later('the key "instrument" is missing; every stage names one.'),
            )
        if "from" in each and not _settle(each, "from", f"{key}.from", stages, "stage", problems):
            del each["from"]
        if "conditions" in each:
            conditions = used.get("conditions", {})
            _settle(each, "conditions", f"{key}.conditions", conditions, "conditions", problems)
        if "again" in each and voices:
            each["again"] = each["again"].removesuffix(AGAIN)
            _settle(each, "again", f"{key}.again", voices, "voice", problems)
        for voice in each.get("ratings", {}) if voices else ():
            _settle({"v": voice}, "v", f"{key}.ratings.{dotted(voice)}", voices, "voice", problems)


def _raw_entry(raw: Tables, table: str, name: str) -> Tables:
    entries = raw.get(table)
    if isinstance(entries, Mapping):
        for each, value in entries.items():
            if match_key(each) == match_key(name) and isinstance(value, Mapping):
                return value
    return {}


def _check_origins(stages: Tables, instruments: Tables, problems: Problems) -> None:
    """Check that ``from`` stays on one instrument or its sisters, and never runs in a circle.

    Stages of one instrument come in the order of their dates; sisters may be recorded in any.
    """
    in_circle: set[str] = set()
    for name, each in stages.items():
        origin = each.get("from")
        if origin is None:
            continue
        key = dotted("stages", name, "from")
        path, last = {name: None}, name
        while (further := stages.get(last, {}).get("from")) is not None and further not in path:
            path[further], last = None, further
        if further == name:
            if name not in in_circle:
                in_circle.update(path)
                problems.add(
                    key,
                    tr_later(
                        "runs in a circle: {chain: from }. One stage must have no from.",
                        chain=tuple(listed([each]) for each in [*path, name]),
                    ),
                )
            continue
        parent = stages[origin]
        mine, theirs = each.get("instrument"), parent.get("instrument")
        if mine is not None and theirs is not None and match_key(mine) != match_key(theirs):
            if not _sisters(mine, theirs, instruments):
                problems.add(
                    key,
                    tr_later(
                        '"{origin}" is a stage of "{theirs}", this is one of "{mine}"; a stage '
                        "comes from a stage of the same instrument, or of a sister: then give both "
                        "[instruments] one model. (Any two instruments meet in [[comparisons]].)",
                        origin=origin,
                        theirs=theirs,
                        mine=mine,
                    ),
                )
            continue
        if "date" in each and "date" in parent and each["date"] < parent["date"]:
            problems.add(
                key,
                tr_later(
                    'this stage ({date}) is earlier than "{origin}" ({other}).',
                    date=str(each["date"]),
                    origin=origin,
                    other=str(parent["date"]),
                ),
            )


def _sisters(one: str, other: str, instruments: Tables) -> bool:
    models = [instruments.get(name, {}).get("model", "") for name in (one, other)]
    return bool(models[0]) and models[0] == models[1]


def check_comparisons(
    entries: Sequence[dict[str, Any]], stages: Tables, problems: Problems
) -> None:
    """Check comparisons against the stages there are; names are put right in place."""
    seen: dict[tuple[str, str], int] = {}
    for i, each in enumerate(entries, start=1):
        key = dotted("comparisons", i)
        settled = [
            _settle_side(each, role, f"{key}.{role}", stages, problems)
            for role in ("before", "after")
            if role in each
        ]
        settled += [
            _settle(each, role, f"{key}.{role}", stages, "stage", problems)
            for role in ("control_before", "control_after")
            if role in each
        ]
        if all(settled):
            _check_comparison(each, key, seen, i, problems)
        if all(settled) and "control_before" in each and "control_after" in each:
            _check_control(each, key, stages, problems)


def _settle_side(
    entry: dict[str, Any], name: str, key: str, stages: Tables, problems: Problems
) -> bool:
    """Let ``entry[name]`` name a stage or ``stage/voice``; voices are looked at with the files."""
    side = ComparedSide.named(entry[name])
    of_stage = {name: side.stage}
    if not _settle(of_stage, name, key, stages, "stage", problems):
        return False
    if side.voice is None and "/" in entry[name]:
        problems.add(key, tr_later('"{name}" names no voice after the "/".', name=entry[name]))
        return False
    entry[name] = ComparedSide(of_stage[name], side.voice).name
    return True


def _check_comparison(
    each: Tables, key: str, seen: dict[tuple[str, str], int], number: int, problems: Problems
) -> None:
    pair = (each.get("before", ""), each.get("after", ""))
    if pair[0] and pair[0] == pair[1]:
        problems.add(key, tr_later('before and after are both "{name}".', name=pair[0]))
    if all(pair) and ("/" in pair[0]) != ("/" in pair[1]):
        whole, voice = sorted(pair, key=lambda side: "/" in side)
        problems.add(
            key,
            tr_later(
                '"{voice}" is one voice and "{whole}" a whole stage; give both sides a voice, like '
                '"{like}", or neither.',
                voice=voice,
                whole=whole,
                like=f"{whole}/{ComparedSide.named(voice).voice}",
            ),
        )
    if all(pair) and pair in seen:
        problems.add(
            key,
            tr_later(
                'comparisons[{n}] compares "{one}" with "{other}" too.',
                n=seen[pair],
                one=pair[0],
                other=pair[1],
            ),
        )
    seen.setdefault(pair, number)
    if ("control_before" in each) != ("control_after" in each):
        there = "control_before" if "control_before" in each else "control_after"
        problems.add(
            key,
            tr_later(
                "{there} alone is no control; give control_before and control_after.", there=there
            ),
        )
    elif "control_before" in each and each["control_before"] == each["control_after"]:
        problems.add(
            key,
            tr_later(
                'control_before and control_after are both "{name}".', name=each["control_before"]
            ),
        )


def _check_control(each: Tables, key: str, stages: Tables, problems: Problems) -> None:
    first, second = stages[each["control_before"]], stages[each["control_after"]]
    mine, theirs = first.get("instrument"), second.get("instrument")
    if mine != theirs:
        problems.add(
            key,
            tr_later(
                'the control is one instrument, found "{one}" and "{other}".',
                one=str(mine),
                other=str(theirs),
            ),
        )
    if second.get("work"):
        problems.add(
            key,
            tr_later(
                'a control is left unchanged, and work led to "{stage}".',
                stage=each["control_after"],
            ),
        )
    sides = {ComparedSide.named(each.get(role, "")).stage for role in ("before", "after")}
    if {each["control_before"], each["control_after"]} & sides:
        problems.add(key, tr_later("a stage cannot be its own control."))
