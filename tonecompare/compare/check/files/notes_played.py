"""Notes: out of tune, other than the file's name or the plan says, missing, or plucked too seldom.

What a recording should hold stands in ``[plan]`` of session.toml; without it, what most voices of
the stage hold is taken for it (each voice against the others, when there are three or more, or
both ways between two).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.session.model import AGAIN, HANDS_OFF, HANDS_ON, PLUCKS
from tonecompare.session.note_names import note_number
from tonecompare.takes.judge_plucks import OUT_OF_TUNE_CENTS
from tonecompare.takes.model import Pluck
from tonecompare.takes.plucks.passages import is_played

#: Plucks of one note below this give no spread.
_LEAST_REPEATS = 2
#: More notes than this are counted, not listed.
_MANY_NOTES = 6
#: A pluck softer by this that is in tune clears a sharp one of its note.
SOFTER_DB = 3.0
#: Notes that only this share of its plucks or fewer have are strays.
_FEW = 0.5
#: So many strays of a file are named.
_STRAYS_NAMED = 5


def note_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the faults of notes of every file, then those of whole voices."""
    heard = _heard(checked)
    for file in checked.files:
        yield from _out_of_tune(file, heard)
        yield from _misnamed(file)
        yield from _nameless(file)
    for stage in checked.stages():
        yield from _against_plan(checked, stage)


def _heard(checked: Checked) -> dict[tuple[str, int], tuple[float, float]]:
    """Return cents and level of every pluck by file and number."""
    rows = checked.plucks[["file", "pluck", "cents", "level_dbfs"]]
    return {
        (str(file), int(number)): (float(cents), float(level))
        for file, number, cents, level in rows.itertuples(index=False)
    }


def _out_of_tune(
    file: Inspected, heard: Mapping[tuple[str, int], tuple[float, float]]
) -> Iterator[Fault]:
    unknown = (float("nan"), float("nan"))
    cents, level = {}, {}
    for pluck in file.plucks:
        cents[pluck.number], level[pluck.number] = heard.get((file.file, pluck.number), unknown)
    hit = [
        pluck
        for pluck in file.plucks
        if "out-of-tune" in pluck.flags
        and not (cents[pluck.number] > 0.0 and _softer_in_tune(pluck, file, level))
    ]
    if not hit:
        return
    by_note: dict[str, list[float]] = {}
    for pluck in hit:
        by_note.setdefault(pluck.note, []).append(cents[pluck.number])
    means = tuple((note, sum(c) / len(c)) for note, c in by_note.items())
    # Data: notes and how many cents off each, plucks, how many cents are allowed.
    yield fault_of(
        file,
        "out of tune",
        "again",
        (means, len(hit), OUT_OF_TUNE_CENTS),
        time_s=hit[0].onset_s,
    )


def _softer_in_tune(pluck: Pluck, file: Inspected, level_dbfs: Mapping[int, float]) -> bool:
    """Whether a softer pluck of the same note is in tune: the sharp one was picked hard."""
    return any(
        other.note == pluck.note
        and "out-of-tune" not in other.flags
        and level_dbfs[other.number] < level_dbfs[pluck.number] - SOFTER_DB
        for other in file.plucks
    )


def _misnamed(file: Inspected) -> Iterator[Fault]:
    hit = [p for p in file.plucks if "misnamed" in p.flags]
    if hit:
        # Data: how it shows, the note that sounds.
        data = ("named", hit[0].note)
        yield fault_of(file, "wrong note", "again", data, time_s=hit[0].onset_s)


def _nameless(file: Inspected) -> Iterator[Fault]:
    hit = [p for p in file.plucks if "no-pitch" in p.flags or "ambiguous-pitch" in p.flags]
    if hit:
        yield fault_of(
            file,
            "note unsure",
            "doubt",
            (tuple(p.onset_s for p in hit),),  # when
            time_s=hit[0].onset_s,
            plucks=[p.number for p in hit if "no-pitch" in p.flags],
        )


def _against_plan(checked: Checked, stage: str) -> Iterator[Fault]:
    counts = {
        voice: _counts(checked, stage, voice)
        for voice in checked.voices(stage)
        if not voice.endswith((HANDS_ON, HANDS_OFF))  # quiet alone is what these are to hold
    }
    planned = checked.session.planned
    for voice, found in counts.items():
        if not found and any(p.note for file in checked.of(stage, voice) for p in file.plucks):
            continue  # riffs and chords alone
        if not found:
            yield _of_voice(checked.of(stage, voice), "no plucks", "again")
            continue
        if planned is not None and PLUCKS not in planned.play:
            continue
        if planned is not None:
            wanted = Counter(dict.fromkeys(planned.notes, planned.repeats))
        else:
            others = [c for v, c in counts.items() if c and v.removesuffix(AGAIN) != voice]
            wanted = _usual(others)
        files = checked.of(stage, voice)
        yield from _missing(files, found, wanted, planned=planned is not None)
        yield from _seldom(files, found, wanted if planned is not None else None)
        yield from _stray(files, found, wanted, planned=planned is not None)


def _counts(checked: Checked, stage: str, voice: str) -> Counter[str]:
    """Count single notes; riffs and chords are looked at by ``played_music``."""
    return Counter(
        p.note
        for f in checked.of(stage, voice)
        for p in f.plucks
        if p.note and not is_played(p.note)
    )


def _usual(others: list[Counter[str]]) -> Counter[str]:
    """Return the notes that all others, or at least two thirds of three or more, hold."""
    if not others:
        return Counter()
    votes = Counter(note for counts in others for note in counts)
    needed = len(others) if len(others) < 3 else 2.0 * len(others) / 3.0
    usual: Counter[str] = Counter()
    for note, n in votes.items():
        if n >= needed:
            times = sorted(counts[note] for counts in others if note in counts)
            usual[note] = times[len(times) // 2]
    return usual


def _missing(
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str], *, planned: bool
) -> Iterator[Fault]:
    missing = tuple(note for note in wanted if note not in found)
    if missing:
        # Data: the notes, whether they are planned (else the other voices have them).
        yield _of_voice(files, "missing notes", "again", (missing, planned))


def _seldom(
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str] | None
) -> Iterator[Fault]:
    least = {note: _LEAST_REPEATS if wanted is None else wanted[note] for note in found}
    short = [note for note, n in found.items() if n < least[note]]
    if not short:
        return
    once = [note for note in short if found[note] < _LEAST_REPEATS]
    # Data: "planned" with note, plucks and planned plucks of each; "all" with how many notes; or
    # "once" with the notes.
    data: tuple[Any, ...]
    if wanted is not None:
        data = ("planned", tuple((note, found[note], least[note]) for note in short))
    elif len(short) == len(found) > _MANY_NOTES:
        data = ("all", len(found))
    else:
        data = ("once", tuple(sorted(short, key=note_number)))
    every = len(once) == len(found)
    yield _of_voice(files, "missing repeats", "again" if every else "doubt", data)


def _stray(
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str], *, planned: bool
) -> Iterator[Fault]:
    if not wanted:
        return
    usual = sorted(wanted.values())[len(wanted) // 2]
    for file in files:
        single = [p for p in file.plucks if p.note and not is_played(p.note)]
        stray = [p for p in single if p.note not in wanted and p.string is not None]
        stray += [p for p in single if p.note not in wanted and p.string is None]
        rare = [p for p in stray if found[p.note] <= max(1.0, _FEW * usual)]
        if rare:
            # Data: how it shows, the first of the notes and when, whether a plan lacks them.
            played = tuple((p.note, p.onset_s) for p in rare[:_STRAYS_NAMED])
            yield fault_of(
                file,
                "wrong note",
                "doubt",
                ("stray", played, planned),
                time_s=rare[0].onset_s,
                plucks=[p.number for p in rare],
            )


def _of_voice(
    files: tuple[Inspected, ...], kind: str, severity: str, data: tuple[Any, ...] = ()
) -> Fault:
    file = files[0].file if len(files) == 1 else ""
    return Fault(kind, severity, files[0].stage, files[0].voice, file, None, data)
