"""Guitars or stages side by side, in sentences: what stands out, what only one has, what warns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tonecompare.compare.guitars.side_by_side import GuitarGroup
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.guitar_words.step_words import NOISES, by_voice, likely
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import (
    count,
    decimals_for,
    is_number,
    listed,
    number,
    unit_word,
)
from tonecompare.report.words.phrases import change

#: A chart's title of more letters is cut; then the stages are counted together.
_LONGEST_TITLE = 92
_HEARD = "likely-audible"
#: Outside places told in the sentence; the table has them all.
_OUTSIDE_SHOWN = 3
OfStage = Mapping[str, Sequence[Difference]]


def group_sentences(group: GuitarGroup, against_first: OfStage) -> tuple[str, ...]:
    """Return what there is to say of a group before its table.

    Parameters
    ----------
    group
        The stages side by side.
    against_first
        Of each later stage its differences from the first over all notes.
    """
    told = [_of_stage(group, name, against_first.get(name, ())) for name in group.stages[1:]]
    told += _only_at_one(group)
    if group.sisters:
        told.append(
            f"{listed(list(group.sisters))} "
            f"{'is a sister' if len(group.sisters) == 1 else 'are sisters'} of {group.first}'s "
            "guitar: two guitars of one model differ before anyone touches them, so this says what "
            "is other than its sister's, not why."
        )
    if group.strangers:
        told.append(
            f"{listed(list(group.strangers))} "
            f"{'is another guitar' if len(group.strangers) == 1 else 'are other guitars'} than "
            f"{group.first}: two guitars differ before anyone touches them, so this says what "
            "differs, not why."
        )
    if group.unnamed:
        told.append(
            "Nobody said whether these are stages of one guitar or several guitars. Two guitars "
            "differ before anyone touches them, even of one model: what differs need not be work."
        )
    return tuple(told)


def chart_title(group: GuitarGroup, against_first: OfStage) -> str:
    """Return what the chart shows, as a finding: on how many voices anything is likely audible."""
    said, loud, every = [], 0, 0
    for stage in group.stages[1:]:
        heard = _heard(against_first.get(stage, ()))
        some = sum(bool(told) for told in heard.values())
        loud, every = loud + some, every + len(heard)
        if heard:
            said.append(f"{stage} on {some or 'none'} of {count(len(heard), 'voice')}")
    title = f"Likely audible against {group.first}: {', '.join(said)}"
    if len(title) <= _LONGEST_TITLE:
        return title
    return f"Likely audible against {group.first}: {loud or 'none'} of {count(every, 'voice')}"


def outside_sentence(rows: Iterable[Mapping[str, Any]], stages: Sequence[str]) -> str:
    """Return which stages lie outside what the unmodified guitars show, "" without such a spread.

    Parameters
    ----------
    rows
        Of :func:`tonecompare.compare.guitars.guitar_spread.guitars_table`.
    stages
        The stages that are spoken of.
    """
    known = [
        row
        for row in rows
        if row["stage"] in stages
        and row["quantity"] in HEADLINE
        and row["unit"] != "cents"
        and is_number(row["difference"])
        and is_number(row["expected_high"])
    ]
    if not known:
        return ""
    guitars = max(int(row["n_guitars"]) for row in known)
    kind = f"{guitars} unmodified guitars"
    outside = sorted((row for row in known if row["outside"]), key=lambda row: -times_as_far(row))
    if not outside:
        return f"Nothing lies outside of what the {kind} let one expect of one more."
    told = [
        f"{row['stage']} {voice_title(str(row['voice']))}, "
        f"{words_for(str(row['quantity'])).noun} {signed(row)} from their mean, "
        f"{number(times_as_far(row), 1)} times as far as one more is expected to lie"
        for row in outside[:_OUTSIDE_SHOWN]
    ]
    rest = len(outside) - len(told)
    more = f"; {rest} more in the table" if rest else ""
    return f"Outside of what the {kind} let one expect of one more: {'; '.join(told)}{more}."


def times_as_far(row: Mapping[str, Any]) -> float:
    """Return how far a stage is from the unmodified ones' mean, in ends of what is expected."""
    end = row["expected_high"] if row["difference"] > 0 else row["expected_low"]
    return abs(float(row["difference"])) / max(abs(float(end)), 1e-12)


def signed(row: Mapping[str, Any]) -> str:
    """Write how far a stage is from the unmodified ones' mean: ``+4.0 dB``."""
    low, high, unit = (row[name] for name in ("expected_low", "expected_high", "unit"))
    decimals = decimals_for((float(high) - float(low)) / 2.0, str(unit))
    return f"{number(float(row['difference']), decimals, signed=True)} {unit_word(unit)}".rstrip()


def _heard(rows: Sequence[Difference]) -> dict[str, list[str]]:
    """Return what is likely audible of each voice, in words; empty lists where nothing is."""
    return {
        title: [
            *(part.text for part in likely(of_voice)),
            *(change(r) for r in of_voice if r.quantity in NOISES and r.verdict == _HEARD),
        ]
        for title, of_voice in by_voice(rows).items()
    }


def _of_stage(group: GuitarGroup, stage: str, rows: Sequence[Difference]) -> str:
    heard = _heard(rows)
    sister = "its sister " if stage in group.sisters else ""
    if not heard:
        return f"{stage} shares no voice with {sister}{group.first}."
    told = [f"{title}: {listed(said)}" for title, said in heard.items() if said]
    both = listed(list(heard))
    if not told:
        return f"{stage}: nothing likely audible against {sister}{group.first} on {both}."
    silent = [title for title, said in heard.items() if not said]
    rest = f". Nothing likely audible on {listed(silent)}" if silent else ""
    return f"{stage}, likely audible against {sister}{group.first}: {'; '.join(told)}{rest}."


def _only_at_one(group: GuitarGroup) -> list[str]:
    """Name the voices that the first does not have, by the stages that do."""
    by_stages: dict[tuple[str, ...], list[str]] = {}
    for each in group.voices:
        if each.reference != group.first:
            stages = (each.reference, *each.others)
            by_stages.setdefault(stages, []).append(voice_title(each.voice))
    return [
        f"Not at {group.first}, only at {listed(list(stages))}: {listed(voices)}."
        for stages, voices in by_stages.items()
    ]
