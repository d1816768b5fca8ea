"""How plucks begin and end: quiet before them, cut or damped too early, faded, run together."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.check.check_phrases import at_times, joined, plucks_word
from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.takes.model import Pluck

#: Decay counts as missing for a note when fewer plucks than this show one.
LEAST_DECAYS = 2
#: A hiss that falls by less is not faded.
HISS_FADES_DB = 3.0
#: What ended a pluck, in words.
_ENDS = {
    "damped": "damped by hand",
    "next-pluck": "ended by the next pluck",
    "file-end": "ended with the file",
}
_ATTACKS = {
    "starts-inside": (
        "again",
        "starts while the note already sounds",
        "The attack is missing, and the onset with it.",
        "Start the recorder two seconds earlier and record it again.",
    ),
    "trimmed": (
        "doubt",
        "starts with the attack itself",
        "The onset may lie a little before the first sample; attack time is unsure.",
        "Use the untrimmed file, or start the recorder earlier.",
    ),
    "double-attack": (
        "doubt",
        "has two attacks within a tenth of a second",
        "Pick noise or a slipped pluck: attack and level are not those of one pluck.",
        "Leave it out (takes.csv) if enough others remain, or pluck the note again.",
    ),
}


def ringing_faults(checked: Checked) -> Iterator[Fault]:
    """Yield what is wrong with the beginnings and ends of plucks."""
    for stage in checked.stages():
        for voice in checked.voices(stage):
            yield from _no_quiet(checked, stage, voice)
    without = _without_decay(checked)
    for file in checked.files:
        yield from _attacks(file)
        yield from _faded(file)
        yield from _no_decay(file, without)


def _no_quiet(checked: Checked, stage: str, voice: str) -> Iterator[Fault]:
    files = checked.of(stage, voice)
    without = [file for file in files if not file.quiets]
    if without and len(without) == len(files):
        several = len(files) > 1
        where = f"None of its {len(files)} files has a" if several else "It has no"
        yield Fault(
            "no quiet",
            "again",
            stage,
            voice,
            "" if several else files[0].file,
            None if several else 0.0,
            f"{where} stretch of 0.2 s or more with the strings damped.",
            "Hum and hiss cannot be measured nor taken off the plucks.",
            "Record it again with five or more seconds of damped strings first"
            + (", in one file at least." if several else "."),
        )


def _attacks(file: Inspected) -> Iterator[Fault]:
    for flag, (severity, words, why, remedy) in _ATTACKS.items():
        hit = [pluck for pluck in file.plucks if flag in pluck.flags]
        if not hit:
            continue
        who = (
            f"The file {words}"
            if flag != "double-attack"
            else f"{plucks_word(len(hit))} ({at_times(p.onset_s for p in hit)}) {words}"
        )
        if flag == "double-attack" and len(hit) > 1:
            who = who.replace(") has", ") have")
        yield fault_of(
            file,
            "attack",
            severity,
            time_s=hit[0].onset_s,
            what=f"{who}.",
            why=why,
            remedy=remedy,
            plucks=[p.number for p in hit],
        )


def _faded(file: Inspected) -> Iterator[Fault]:
    hit = [pluck for pluck in file.plucks if "faded" in pluck.flags]
    # A hand on the string at the very end leaves the hiss where it was; a fade does not.
    if hit and not file.hiss_at_end_db > -HISS_FADES_DB:
        yield fault_of(
            file,
            "fade",
            "doubt",
            time_s=hit[-1].end_s,
            what=f"The noise dies away with the note (from about {hit[-1].end_s:.1f} s on): the "
            "end was faded out or switched off.",
            why="A fade shortens the decay; what lies in it was not measured.",
            remedy="Use the file as recorded, without a fade.",
        )


def _without_decay(checked: Checked) -> set[tuple[str, int]]:
    """Return (file, pluck) without decay time, of notes of which too few plucks have one."""
    rows = checked.plucks[checked.plucks["note"] != ""]
    out: set[tuple[str, int]] = set()
    for _, of_note in rows.groupby(["stage", "voice", "output", "note"], sort=False):
        without = of_note[of_note["decay_s"].isna()]
        if len(of_note) - len(without) < min(LEAST_DECAYS, len(of_note)):
            files, numbers = without["file"].tolist(), without["pluck"].tolist()
            out.update((str(f), int(n)) for f, n in zip(files, numbers, strict=True))
    return out


def _no_decay(file: Inspected, without: set[tuple[str, int]]) -> Iterator[Fault]:
    """Yield a fault per way of ending of the plucks that ended before they showed a decay."""
    early: dict[str, list[Pluck]] = {}
    for pluck in file.plucks:
        if (file.file, pluck.number) in without and pluck.ended_by in _ENDS:
            early.setdefault(pluck.ended_by, []).append(pluck)
    for ended_by, hit in early.items():
        notes = list(dict.fromkeys(pluck.note for pluck in hit))
        yield fault_of(
            file,
            "cut short",
            "again",
            time_s=hit[0].end_s,
            what=f"{joined(notes)}: {plucks_word(len(hit))} {_ENDS[ended_by]} before the note "
            f"fell by 25 dB ({'the first ' if len(hit) > 1 else ''}after {hit[0].ring_s:.1f} s).",
            why="No decay time can be had from them, and decay is what work on pickups and "
            "hardware is said to change.",
            remedy="Let every note ring until it is gone, low strings ten seconds or more.",
        )
