"""Guitars or stages side by side, in sentences: what stands out, what only one has, what warns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tonecompare.compare.guitars.side_by_side import GuitarGroup
from tonecompare.language import tr, tr_n
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.guitar_words.step_words import (
    NOISES,
    by_voice,
    likely,
    told_together,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import decimals_for, is_number, listed, number, unit_word
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
            tr_n(
                "{names} is a sister of {first}'s guitar: two guitars of one model differ before "
                "anyone touches them, so this says what differs, not why.",
                "{names} are sisters of {first}'s guitar: two guitars of one model differ before "
                "anyone touches them, so this says what differs, not why.",
                len(group.sisters),
                names=listed(list(group.sisters)),
                first=group.first,
            )
        )
    if group.strangers:
        told.append(
            tr_n(
                "{names} is another guitar than {first}: two guitars differ before anyone touches "
                "them, so this says what differs, not why.",
                "{names} are other guitars than {first}: two guitars differ before anyone touches "
                "them, so this says what differs, not why.",
                len(group.strangers),
                names=listed(list(group.strangers)),
                first=group.first,
            )
        )
    if group.unnamed:
        told.append(
            tr(
                "Nobody said whether these are stages of one guitar or several guitars. Two "
                "guitars differ before anyone touches them, even of one model: what differs need "
                "not be work."
            )
        )
    return tuple(told)


def chart_title(group: GuitarGroup, against_first: OfStage) -> str:
    """Return what the chart shows, as a finding: on how many voices anything is likely audible."""
    said, loud, every = [], set[str](), set[str]()
    for stage in group.stages[1:]:
        heard = _heard(against_first.get(stage, ()))
        some = {voice for voice, told in heard.items() if told}
        loud, every = loud | some, every | set(heard)
        if heard:
            said.append(f"{stage} {_of_voices(len(some), len(heard), after_stage=True)}")
    title = tr(
        "Likely audible against {first}: {voices}", first=group.first, voices=", ".join(said)
    )
    if len(title) <= _LONGEST_TITLE:
        return title
    voices = _of_voices(len(loud), len(every))
    return tr("Likely audible against {first}: {voices}", first=group.first, voices=voices)


def _of_voices(some: int, every: int, *, after_stage: bool = False) -> str:
    """Return "3 of 5 voices" or "none of 5 voices", as "on 3 of 5 voices" after a stage's name."""
    if after_stage and some:
        return tr_n("on {some} of {n} voice", "on {some} of {n} voices", every, some=some)
    if after_stage:
        return tr_n("on none of {n} voice", "on none of {n} voices", every)
    if some:
        return tr_n("{some} of {n} voice", "{some} of {n} voices", every, some=some)
    return tr_n("none of {n} voice", "none of {n} voices", every)


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
    outside = sorted((row for row in known if row["outside"]), key=lambda row: -times_as_far(row))
    if not outside:
        return tr(
            "Nothing lies outside of what the {n} unmodified guitars let one expect of one more.",
            n=guitars,
        )
    told = [
        tr(
            "{stage} {voice}, {quantity} {difference} from their mean, {times} times as far as "
            "one more is expected to lie",
            stage=row["stage"],
            voice=voice_title(str(row["voice"])),
            quantity=words_for(str(row["quantity"])).noun,
            difference=signed(row),
            times=number(times_as_far(row), 1),
        )
        for row in outside[:_OUTSIDE_SHOWN]
    ]
    rest = len(outside) - len(told)
    if rest:
        told.append(tr("{n} more in the table", n=rest))
    return tr(
        "Outside of what the {n} unmodified guitars let one expect of one more: {what}.",
        n=guitars,
        what="; ".join(told),
    )


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
    first = group.first
    if stage in group.sisters:
        first = tr("its sister {stage}", stage=group.first)
    if not heard:
        return tr("{stage} shares no voice with {first}.", stage=stage, first=first)
    told = told_together(heard)
    if not told:
        return tr(
            "{stage}: nothing likely audible against {first} on {voices}.",
            stage=stage,
            first=first,
            voices=listed(list(heard)),
        )
    silent = [title for title, said in heard.items() if not said]
    rest = f" {tr('Nothing likely audible on {voices}.', voices=listed(silent))}" if silent else ""
    loud = tr(
        "{stage}, likely audible against {first}: {changes}.",
        stage=stage,
        first=first,
        changes=told,
    )
    return loud + rest


def _only_at_one(group: GuitarGroup) -> list[str]:
    """Name the voices that the first does not have, by the stages that do."""
    by_stages: dict[tuple[str, ...], list[str]] = {}
    for each in group.voices:
        if each.reference != group.first:
            stages = (each.reference, *each.others)
            by_stages.setdefault(stages, []).append(voice_title(each.voice))
    return [
        tr(
            "Not at {first}, only at {stages}: {voices}.",
            first=group.first,
            stages=listed(list(stages)),
            voices=listed(voices),
        )
        for stages, voices in by_stages.items()
    ]
