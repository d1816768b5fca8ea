"""The sounds of a session: per comparison, voice and note, which plucks stand for each side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.voices_paired import with_sides
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.measure.model import Measurements
from tonecompare.report.sounds.cuts import Cut, by_note, common_length_s, cut_of, from_the_middle
from tonecompare.session.model import ComparisonSpec, Session


@dataclass(frozen=True)
class SoundPair:
    """One note of one voice on both sides of a comparison.

    ``before`` and ``after`` are the plucks of each side, that of middle level first; all are cut
    to one length.
    """

    comparison: str
    sides: tuple[str, str]
    voice: str
    output: str
    note: str
    before: tuple[Cut, ...]
    after: tuple[Cut, ...]
    several_outputs: bool = False

    @property
    def length_s(self) -> float:
        """Length after the onset, the same for every pluck."""
        return self.before[0].length_s


def sound_pairs(
    session: Session,
    measurements: Measurements,
    *,
    longest_s: float,
    most_plucks: int = 1,
    comparisons: Sequence[str] = (),
    voices: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> tuple[SoundPair, ...]:
    """Return the sounds of a session, in the order of its comparisons, voices and notes.

    Parameters
    ----------
    session, measurements
        As recorded and measured.
    longest_s
        Longest a sound rings; it is shorter where a pluck rings shorter.
    most_plucks
        Plucks of each side, the same number on both.
    comparisons, voices, notes
        Only these, all when empty.

    Raises
    ------
    InputError
        When a name given is none of the session's, with those there are.
    """
    session, measurements = with_sides(session, measurements)
    found: list[SoundPair] = []
    for spec in planned_comparisons(session):
        found += _of(spec, measurements.plucks, longest_s, most_plucks)
    for asked, there, what in (
        (comparisons, [pair.comparison for pair in found], tr_later("comparison")),
        (voices, [pair.voice for pair in found], tr_later("voice")),
        (notes, [pair.note for pair in found], tr_later("note")),
    ):
        refuse_unknown(asked, there, what)
    return tuple(
        pair
        for pair in found
        if (not comparisons or pair.comparison in comparisons)
        and (not voices or pair.voice in voices)
        and (not notes or pair.note in notes)
    )


def _of(
    spec: ComparisonSpec, plucks: pd.DataFrame, longest_s: float, most: int
) -> Iterable[SoundPair]:
    if not len(plucks):
        return
    here = plucks[plucks["stage"].isin([spec.before, spec.after])]
    voices = list(dict.fromkeys(zip(here["voice"], here["output"], strict=True)))
    outputs = [voice for voice, _ in voices]
    for voice in voices:
        sides = [by_note(here, one, voice, pitched=False) for one in (spec.before, spec.after)]
        for note in (note for note in sides[0] if note in sides[1]):
            before, after = (from_the_middle(side[note]) for side in sides)
            count = min(len(before), len(after), most)
            chosen = [rows.iloc[:count] for rows in (before, after)]
            length_s = common_length_s(chosen, longest_s)
            cuts = [tuple(cut_of(row, length_s) for _, row in rows.iterrows()) for rows in chosen]
            several = outputs.count(voice[0]) > 1
            yield SoundPair(
                spec.name, (spec.before, spec.after), *voice, note, cuts[0], cuts[1], several
            )


def refuse_unknown(asked: Sequence[str], there: Iterable[str], what: str) -> None:
    """Raise :class:`InputError` where a name is asked for that is not there."""
    names = [name for name in dict.fromkeys(there) if name]
    for name in asked:
        if name not in names:
            known = ", ".join(f'"{one}"' for one in names) or tr("none")
            raise InputError(
                tr(
                    'There is no {what} "{name}" to choose here. There is: {known}.',
                    what=tr(what),
                    name=name,
                    known=known,
                )
            )
