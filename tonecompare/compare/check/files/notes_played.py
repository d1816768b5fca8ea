"""Notes: out of tune, other than the file's name or the plan says, missing, or plucked too seldom.

What a recording should hold stands in ``[plan]`` of session.toml; without it, what most voices of
the stage hold is taken for it (each voice against the others, when there are three or more, or
both ways between two).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from tonecompare.compare.check.check_phrases import at_times, joined, plain, plucks_word
from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.session.model import AGAIN, HANDS_OFF, HANDS_ON
from tonecompare.session.note_names import note_number
from tonecompare.takes.judge_plucks import OUT_OF_TUNE_CENTS

#: Plucks of one note below this give no spread.
_LEAST_REPEATS = 2
#: More notes than this are counted, not listed.
_MANY_NOTES = 6
#: Notes that only this share of its plucks or fewer have are strays.
_FEW = 0.5


def note_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the faults of notes of every file, then those of whole voices."""
    cents = _cents(checked)
    for file in checked.files:
        yield from _out_of_tune(file, cents)
        yield from _misnamed(file)
        yield from _nameless(file)
    for stage in checked.stages():
        yield from _against_plan(checked, stage)


def _cents(checked: Checked) -> dict[tuple[str, int], float]:
    rows = checked.plucks[["file", "pluck", "cents"]]
    return {(str(f), int(p)): float(c) for f, p, c in rows.itertuples(index=False)}


def _out_of_tune(file: Inspected, cents: Mapping[tuple[str, int], float]) -> Iterator[Fault]:
    hit = [p for p in file.plucks if "out-of-tune" in p.flags]
    by_note: dict[str, list[float]] = {}
    for pluck in hit:
        by_note.setdefault(pluck.note, []).append(
            cents.get((file.file, pluck.number), float("nan"))
        )
    if not hit:
        return
    means = {note: sum(c) / len(c) for note, c in by_note.items()}
    how = joined(
        [
            f"{note} {plain(abs(mean), 0)} cents {'sharp' if mean > 0.0 else 'flat'}"
            for note, mean in means.items()
        ]
    )
    yield fault_of(
        file,
        "out of tune",
        "again",
        time_s=hit[0].onset_s,
        what=f"Out of tune: {how} ({plucks_word(len(hit))}, {'from' if len(hit) > 1 else 'at'} "
        f"{hit[0].onset_s:.1f} s{' on' if len(hit) > 1 else ''}; {OUT_OF_TUNE_CENTS:.0f} cents are "
        "allowed).",
        why="Another tension changes partials, decay and the place of the pickup's comb.",
        remedy="Tune (or set a4_hz in session.toml if the whole instrument is tuned so) and record "
        "it again.",
    )


def _misnamed(file: Inspected) -> Iterator[Fault]:
    hit = [p for p in file.plucks if "misnamed" in p.flags]
    if hit:
        yield fault_of(
            file,
            "wrong note",
            "again",
            time_s=hit[0].onset_s,
            what=f"The file is named for another note than sounds ({hit[0].note}).",
            why="It would be compared with other plucks of the note that sounds.",
            remedy="Rename the file, or record the note it is named for.",
        )


def _nameless(file: Inspected) -> Iterator[Fault]:
    hit = [p for p in file.plucks if "no-pitch" in p.flags or "ambiguous-pitch" in p.flags]
    if hit:
        yield fault_of(
            file,
            "note unsure",
            "doubt",
            time_s=hit[0].onset_s,
            what=f"{plucks_word(len(hit))} without a certain pitch "
            f"({at_times(p.onset_s for p in hit)}).",
            why="A knock, a muted string, or a note an octave off; plucks without a name are not "
            "compared.",
            remedy="Listen; name the note or leave the pluck out in takes.csv.",
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
        if not found:
            yield _no_plucks(checked.of(stage, voice))
            continue
        if planned is not None:
            wanted = Counter(dict.fromkeys(planned.notes, planned.repeats))
            source = "planned"
        else:
            others = [c for v, c in counts.items() if c and v.removesuffix(AGAIN) != voice]
            wanted, source = _usual(others), "in the other voices"
        files = checked.of(stage, voice)
        yield from _missing(files, found, wanted, source)
        yield from _seldom(files, found, wanted if planned is not None else None, source)
        yield from _stray(files, found, wanted, source)


def _no_plucks(files: tuple[Inspected, ...]) -> Fault:
    return _of_voice(
        files,
        "no plucks",
        "again",
        what="No pluck with a certain note was found in it.",
        why="Nothing of how this voice sounds can be compared.",
        remedy="Check that the voice was on and its knobs up, and record it again. A file that is "
        f"to hold quiet alone ends in {HANDS_ON} or {HANDS_OFF}.",
    )


def _counts(checked: Checked, stage: str, voice: str) -> Counter[str]:
    return Counter(p.note for f in checked.of(stage, voice) for p in f.plucks if p.note)


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
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str], source: str
) -> Iterator[Fault]:
    missing = [note for note in wanted if note not in found]
    if missing:
        yield _of_voice(
            files,
            "missing notes",
            "again",
            what=f"{joined(missing)} {'is' if len(missing) == 1 else 'are'} {source} but not here.",
            why="Differences are taken over the notes both stages have; a note missing now is "
            "missing for good.",
            remedy="Record the missing notes into a further file of this voice "
            f"({files[0].voice}.2.wav beside {files[0].voice}.wav).",
        )


def _seldom(
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str] | None, source: str
) -> Iterator[Fault]:
    least = {note: _LEAST_REPEATS if wanted is None else wanted[note] for note in found}
    short = [note for note, n in found.items() if n < least[note]]
    if not short:
        return
    once = [note for note in short if found[note] < _LEAST_REPEATS]
    counted = joined(
        [
            f"{note} {found[note]}" + (f" of {least[note]}" if wanted is not None else "")
            for note in short
        ]
    )
    if wanted is not None:
        what = f"Fewer repeats than {source}: {counted}."
    elif len(short) == len(found) > _MANY_NOTES:
        what = f"Every one of its {len(found)} notes was plucked only once."
    else:
        what = f"Plucked only once: {joined(sorted(short, key=note_number))}."
    yield _of_voice(
        files,
        "missing repeats",
        "again" if len(once) == len(found) else "doubt",
        what=what,
        why="Without repeats nobody knows how much the plucks differ by themselves, so that a "
        "small change cannot be told from none.",
        remedy="Add plucks of these notes in a further file of this voice.",
    )


def _stray(
    files: tuple[Inspected, ...], found: Counter[str], wanted: Counter[str], source: str
) -> Iterator[Fault]:
    if not wanted:
        return
    usual = sorted(wanted.values())[len(wanted) // 2]
    for file in files:
        stray = [p for p in file.plucks if p.note and p.note not in wanted and p.string is not None]
        stray += [p for p in file.plucks if p.note and p.note not in wanted and p.string is None]
        rare = [p for p in stray if found[p.note] <= max(1.0, _FEW * usual)]
        if rare:
            listed = joined([f"{p.note} at {p.onset_s:.1f} s" for p in rare[:5]])
            yield fault_of(
                file,
                "wrong note",
                "doubt",
                time_s=rare[0].onset_s,
                what=f"{listed}: not {source}.",
                why="A wrong fret or string, or a slip; it has no partner to be compared with.",
                remedy="Listen; name it right or leave it out in takes.csv, and pluck the note "
                "that was meant.",
                plucks=[p.number for p in rare],
            )


def _of_voice(
    files: tuple[Inspected, ...], kind: str, severity: str, *, what: str, why: str, remedy: str
) -> Fault:
    file = files[0].file if len(files) == 1 else ""
    first = files[0]
    return Fault(kind, severity, first.stage, first.voice, file, None, what, why, remedy)
