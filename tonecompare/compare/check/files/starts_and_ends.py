"""How plucks begin and end: quiet before them, cut or damped too early, faded, run together."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.takes.model import Pluck
from tonecompare.takes.plucks.passages import is_played

#: Decay counts as missing for a note when fewer plucks than this show one.
LEAST_DECAYS = 2
#: A hiss that falls by less is not faded.
HISS_FADES_DB = 3.0
#: What ends a pluck before its time.
_ENDS = ("damped", "next-pluck", "file-end")
#: Flag of an attack that is not one pluck's -> severity.
_ATTACKS = {"starts-inside": "again", "trimmed": "doubt", "double-attack": "doubt"}


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
        # Data: how many files the voice has.
        yield Fault(
            "no quiet",
            "again",
            stage,
            voice,
            "" if several else files[0].file,
            None if several else 0.0,
            (len(files),),
        )


def _attacks(file: Inspected) -> Iterator[Fault]:
    for flag, severity in _ATTACKS.items():
        hit = [pluck for pluck in file.plucks if flag in pluck.flags]
        if flag == "double-attack":  # a strum has as many as strings
            hit = [pluck for pluck in hit if not is_played(pluck.note)]
        if not hit:
            continue
        # Data: the flag, when.
        yield fault_of(
            file,
            "attack",
            severity,
            (flag, tuple(p.onset_s for p in hit)),
            time_s=hit[0].onset_s,
            plucks=[p.number for p in hit],
        )


def _faded(file: Inspected) -> Iterator[Fault]:
    hit = [pluck for pluck in file.plucks if "faded" in pluck.flags]
    # A hand on the string at the very end leaves the hiss where it was; a fade does not.
    if hit and not file.hiss_at_end_db > -HISS_FADES_DB:
        yield fault_of(file, "fade", "doubt", time_s=hit[-1].end_s)


def _without_decay(checked: Checked) -> set[tuple[str, int]]:
    """Return (file, pluck) without decay time, of notes of which too few plucks have one."""
    notes = checked.plucks["note"]
    rows = checked.plucks[(notes != "") & ~notes.map(is_played).astype(bool)]
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
        notes = tuple(dict.fromkeys(pluck.note for pluck in hit))
        # Data: notes, plucks, what ended them, after how many seconds the first.
        yield fault_of(
            file,
            "cut short",
            "again",
            (notes, len(hit), ended_by, hit[0].ring_s),
            time_s=hit[0].end_s,
        )
