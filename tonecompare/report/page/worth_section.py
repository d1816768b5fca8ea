"""Was it worth it: what each step of work cost and how far it moved the sound, for the page.

Distances are counted in hearing thresholds, family by family, never added up to one score; and the
words never call more change better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import pandas as pd

from tonecompare.compare.worth.work_steps import Distance, NewVoice, Step
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.worth import worth_chart
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, number

#: Words for the families, in sentences and in the table.
FAMILY_WORDS = {
    "level": "level",
    "shape": "shape of the spectrum",
    "decay": "decay",
    "hum": "hum",
}
#: Columns of ``worth.csv``.
WORTH_COLUMNS = (
    "stage", "instrument", "against", "family", "voices", "distance", "ci_low", "ci_high",
    "parts_cost", "hours", "money", "total_money", "total_hours", "reason",
)  # fmt: skip


@dataclass(frozen=True)
class StepView:
    """One step with finished words: cells from stock and from the stage before, by family."""

    stage: str
    work: str
    cost: str
    total: str
    from_stock: tuple[str, ...]
    from_before: tuple[str, ...]
    sentences: tuple[str, ...]
    ratings: str


@dataclass(frozen=True)
class WorthSection:
    """The section: a row per step, sentences, charts."""

    families: tuple[str, ...]
    steps: tuple[StepView, ...]
    pictures: tuple[Picture, ...]
    returns: tuple[str, ...]


def worth_section(steps: Sequence[Step], *, currency: str, album: Album) -> WorthSection | None:
    """Return the section; None when no stage names work that led to it.

    Parameters
    ----------
    steps
        Stages that work led to.
    currency
        What money is counted in; "" writes plain numbers.
    album
        Draws and files the charts.
    """
    if not steps:
        return None
    return WorthSection(
        families=tuple(FAMILY_WORDS.values()),
        steps=tuple(_view(step, currency) for step in steps),
        pictures=_pictures(steps, currency, album),
        returns=_returns(steps, currency),
    )


def _view(step: Step, currency: str) -> StepView:
    return StepView(
        stage=step.stage,
        work="; ".join(step.work) or "no work named",
        cost=_cost(step.parts_cost, step.hours, step.money, currency),
        total=_cost(None, step.total_hours, step.total_money, currency),
        from_stock=tuple(_cell(distance) for distance in step.from_stock),
        from_before=tuple(_cell(distance) for distance in step.from_before),
        sentences=(_moved(step), *(_new_voice(new) for new in step.new_voices), *_free(step),
                   *_explained(step)),
        ratings=_ratings(step),
    )  # fmt: skip


def _amount(value: float, currency: str) -> str:
    """Write money in whole units where it is whole, else to the hundredth, so that sums agree."""
    return f"{number(value, 0 if abs(value - round(value)) < 0.005 else 2)} {currency}".strip()


def _short(value: float) -> str:
    """Write hours or a rating with up to two decimals, none for nothing."""
    text = number(value, 2)
    return text.rstrip("0").rstrip(".")


def _cost(parts: float | None, hours: float, money: float | None, currency: str) -> str:
    said = [] if parts is None else [f"{_amount(parts, currency)} parts"]
    said.append(f"{_short(hours)} h")
    if money is not None:
        said.append(f"{_amount(money, currency)} in all")
    return ", ".join(said)


def _cell(distance: Distance) -> str:
    if distance.value is None or distance.ci_low is None or distance.ci_high is None:
        return distance.reason or "not measured"
    return (
        f"{number(distance.value, 1)} ({number(distance.ci_low, 1)} to "
        f"{number(distance.ci_high, 1)})"
    )


def _moved(step: Step) -> str:
    """Say which families moved past one threshold, which stayed within it, which are open."""
    moved, stayed, undecided = [], [], []
    for distance in step.from_before:
        if distance.value is None or distance.ci_low is None or distance.ci_high is None:
            continue
        words = FAMILY_WORDS[distance.family]
        if distance.ci_low > 1.0:
            moved.append(f"{words} by {number(distance.value, 1)} hearing thresholds")
        elif distance.ci_high <= 1.0:
            stayed.append(words)
        else:
            undecided.append(words)
    parts = []
    if moved:
        parts.append(f"moved {listed(moved)}")
    if stayed:
        parts.append(f"left {listed(stayed)} within one threshold")
    if undecided:
        parts.append(f"leaves open whether {listed(undecided)} moved by more than one threshold")
    said = "; ".join(parts) if parts else "nothing was measured in both stages"
    return f"Against {step.before}, on the voices both have, this step {said}."


def _new_voice(new: NewVoice) -> str:
    name = voice_title(new.voice) + (f" ({new.output})" if new.output == "piezo" else "")
    if new.distance is None or new.ci_low is None or new.ci_high is None:
        return f"New voice {name}: no earlier voice shares enough notes to compare it with."
    return (
        f"New voice {name}: nearest in shape is {voice_title(new.nearest)}, "
        f"{number(new.distance, 1)} hearing thresholds away "
        f"({number(new.ci_low, 1)} to {number(new.ci_high, 1)})."
    )


def _free(step: Step) -> tuple[str, ...]:
    if not step.free_share:
        return ()
    shares = [
        f"{number(100.0 * share, 0)} % on {voice_title(voice)}"
        for voice, share in step.free_share.items()
    ]
    return (
        f"Of the change in response since {step.stock}, a few-band equaliser on the stock voice "
        f"would have given {listed(shares)}, at no cost in parts.",
    )


def _explained(step: Step) -> tuple[str, ...]:
    if not step.confounds:
        return ()
    kinds = listed([kind.replace("-", " ") for kind in step.confounds])
    return (f"Not all of this distance is the work's: {kinds} also changed since {step.stock}.",)


def _ratings(step: Step) -> str:
    said = []
    for voice, (before, after) in step.ratings.items():
        one = "–" if before is None else _short(before)
        other = "–" if after is None else _short(after)
        said.append(f"{voice_title(voice)} {one} → {other}")
    return ", ".join(said)


def _returns(steps: Sequence[Step], currency: str) -> tuple[str, ...]:
    """Compare what a step moved for its money with what the one before it did, where it can."""
    said = []
    for earlier, later in pairwise(steps):
        if later.before != earlier.stage or not earlier.money or not later.money:
            continue
        less, more = [], []
        for one, other in zip(earlier.from_before, later.from_before, strict=True):
            if one.ci_low is None or one.ci_high is None:
                continue
            if other.ci_low is None or other.ci_high is None:
                continue
            if other.ci_high / later.money < one.ci_low / earlier.money:
                less.append(FAMILY_WORDS[one.family])
            elif other.ci_low / later.money > one.ci_high / earlier.money:
                more.append(FAMILY_WORDS[one.family])
        parts = [f"less in {listed(less)}"] if less else []
        parts += [f"more in {listed(more)}"] if more else []
        money = f"per {currency} spent" if currency else "for its money"
        said.append(
            f"{later.stage} moved the voices it shares with {earlier.stage} {' and '.join(parts)} "
            f"{money} than {earlier.stage} did; new voices are not in this."
            if parts
            else f"Whether {later.stage} gave more or less {money} than {earlier.stage} cannot be "
            "told from these takes."
        )
    return tuple(said)


def _pictures(steps: Sequence[Step], currency: str, album: Album) -> tuple[Picture, ...]:
    lines: dict[tuple[str, str], list[Step]] = {}
    for step in steps:
        lines.setdefault((step.instrument, step.stock), []).append(step)
    pictures = []
    for (_, stock), line in lines.items():
        for axis in ("money", "hours"):
            if axis == "money" and any(step.total_money is None for step in line):
                continue
            pictures.append(_picture(line, axis, currency, stock, album))
    return tuple(pictures)


def _picture(line: Sequence[Step], axis: str, currency: str, stock: str, album: Album) -> Picture:
    spent = "Spent" if axis == "money" else "Hours"
    unit = currency if axis == "money" else "h"
    label = f"{spent} since {stock}" + (f", {unit}" if unit else "")
    voices = dict.fromkeys(
        voice for step in line for each in step.from_stock for voice in each.by_voice
    )
    over = listed([voice_title(voice) for voice in voices])
    return album.add(
        f"worth-{stock}-{axis}",
        lambda: worth_chart(line, axis=axis, label=label),
        alt=f"Distance from {stock} in hearing thresholds over {axis}, family by family. The "
        "numbers stand in the table above.",
        caption=f"How far each stage lies from {stock}, mean over {over or 'no voice'}, with 95 % "
        "intervals. Grey: within one hearing threshold. Farther is different, not better.",
        texts=tuple(step.stage for step in line),
    )


def worth_table(steps: Sequence[Step]) -> pd.DataFrame:
    """Return the rows of ``worth.csv``: a row per stage, reference stage and family."""
    rows = [
        {
            "stage": step.stage,
            "instrument": step.instrument,
            "against": against,
            "family": distance.family,
            "voices": distance.n_voices,
            "distance": distance.value,
            "ci_low": distance.ci_low,
            "ci_high": distance.ci_high,
            "parts_cost": step.parts_cost,
            "hours": step.hours,
            "money": step.money,
            "total_money": step.total_money,
            "total_hours": step.total_hours,
            "reason": distance.reason,
        }
        for step in steps
        for against, distances in ((step.stock, step.from_stock), (step.before, step.from_before))
        for distance in distances
    ]
    return pd.DataFrame(rows, columns=list(WORTH_COLUMNS)).drop_duplicates(ignore_index=True)
