"""Was it worth it: what each step of work cost and what it brought, for the page.

Distances are counted in hearing thresholds, family by family, never added up to one score; and the
words never call more change better. Table and chart show the same distances: each stage from the
one before it, mean over the voices both have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.worth.work_steps import Distance, Step
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.worth import WorthRow, worth_chart
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.guitar_words.cost_words import amount, cost, short
from tonecompare.report.words.guitar_words.step_returns import finding, returns, steps_in_turn
from tonecompare.report.words.guitar_words.step_words import (
    VoiceRows,
    audible_cell,
    by_voice,
    names_of_new,
    step_sentences,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import NOT_MEASURED, listed, number
from tonecompare.report.words.reason_words import told_rows

#: Words for the families, in the table and in the chart.
FAMILY_WORDS = {
    "level": tr_later("level"),
    "shape": tr_later("shape of the spectrum"),
    "decay": tr_later("decay"),
    "hum": tr_later("hum"),
}
#: Columns of ``worth.csv``.
WORTH_COLUMNS = (
    "stage", "instrument", "against", "family", "voices", "distance", "ci_low", "ci_high",
    "parts_cost", "hours", "money", "total_money", "total_hours", "reason", "new_voices",
)  # fmt: skip


@dataclass(frozen=True)
class StepView:
    """One step with finished words; ``distances`` from the stage before, by family."""

    stage: str
    before: str
    work: str
    cost: str
    total: str
    new_voices: str
    audible: str
    distances: tuple[str, ...]
    sentences: tuple[str, ...]
    ratings: str


@dataclass(frozen=True)
class WorthSection:
    """The section: a row per step, sentences, charts."""

    families: tuple[str, ...]
    steps: tuple[StepView, ...]
    pictures: tuple[Picture, ...]
    returns: tuple[str, ...]


def worth_section(
    steps: Sequence[Step], comparisons: Comparisons, *, currency: str, album: Album
) -> WorthSection | None:
    """Return the section; None when no stage names work that led to it.

    Parameters
    ----------
    steps
        Stages that work led to.
    comparisons
        Hold the differences of each from the stage before it.
    currency
        What money is counted in; "" writes plain numbers.
    album
        Draws and files the charts.
    """
    if not steps:
        return None
    rows = {step.stage: differences_of(step, comparisons) for step in steps}
    voices = {name: by_voice(of_step) for name, of_step in rows.items()}
    return WorthSection(
        families=tuple(map(tr, FAMILY_WORDS.values())),
        steps=tuple(_view(step, rows[step.stage], voices[step.stage], currency) for step in steps),
        pictures=_pictures(steps, voices, currency, album),
        returns=tuple(
            returns(
                one,
                other,
                (voices[one.stage], voices[other.stage]),
                currency=currency,
            )
            for one, other in steps_in_turn(steps)
        ),
    )


def differences_of(step: Step, comparisons: Comparisons) -> list[Difference]:
    """Return the differences over all notes between the stage before a step and the step's."""
    holding = comparisons.holding(step.comparison)
    return [row for row in told_rows(holding) if row.comparison == step.comparison]


def _view(step: Step, rows: Sequence[Difference], voices: VoiceRows, currency: str) -> StepView:
    new = names_of_new(step)
    return StepView(
        stage=step.stage,
        before=tr("sister {stage}", stage=step.before) if step.sister else step.before,
        work="; ".join(step.work) or tr("no work named"),
        cost=cost(step.parts_cost, step.hours, step.money, currency),
        total=cost(None, step.total_hours, step.total_money, currency),
        new_voices=f"{len(new)}: {listed(new)}" if new else tr("none"),
        audible=audible_cell(voices),
        distances=tuple(_cell(distance) for distance in step.from_before),
        sentences=step_sentences(step, rows),
        ratings=_ratings(step),
    )


def _cell(distance: Distance) -> str:
    if distance.value is None or distance.ci_low is None or distance.ci_high is None:
        return tr(distance.reason or NOT_MEASURED)
    ends = tr("{low} to {high}", low=number(distance.ci_low, 1), high=number(distance.ci_high, 1))
    return f"{number(distance.value, 1)} ({ends})"


def _ratings(step: Step) -> str:
    said = []
    for voice, (before, after) in step.ratings.items():
        one = "–" if before is None else short(before)
        other = "–" if after is None else short(after)
        said.append(f"{voice_title(voice)} {one} → {other}")
    return ", ".join(said)


def _pictures(
    steps: Sequence[Step], voices: dict[str, VoiceRows], currency: str, album: Album
) -> tuple[Picture, ...]:
    lines: dict[str, list[Step]] = {}
    for step in steps:
        lines.setdefault(step.stock, []).append(step)
    return tuple(
        album.add(
            f"worth-{stock}",
            lambda line=line: worth_chart(  # type: ignore[misc]
                [worth_row(step, currency) for step in line],
                title=finding(line, [voices[step.stage] for step in line]),
            ),
            alt=tr(
                "What each step after {stock} cost, how many voices it added and how far it "
                "moved the others, in hearing thresholds. The numbers stand in the table above.",
                stock=stock,
            ),
            caption=tr(
                "How far each step moved the voices it shares with the stage before it, their "
                "mean with its 95 % interval, as in the table. Grey: within one hearing threshold. "
                "Farther is different, not better."
            ),
            texts=(*(step.stage for step in line), *(step.before for step in line)),
        )
        for stock, line in lines.items()
    )


def worth_row(step: Step, currency: str) -> WorthRow:
    """Return what the chart shows of one step: its name, cost and new voices, its distances."""
    parts = step.parts_cost or None
    spent = cost(parts, step.hours, None, currency)
    if step.money is not None:
        spent = amount(step.money, currency)
    n = len(names_of_new(step))
    new = tr_n("{n} new voice", "{n} new voices", n) if step.new_voices else tr("no new voice")
    said = tr("{spent}, {new}, against {stage}", spent=spent, new=new, stage=step.before)
    return WorthRow(step.stage, said, step.from_before)


def _new(step: Step) -> tuple[str, ...]:
    return tuple(dict.fromkeys(new.voice for new in step.new_voices))


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
            "new_voices": "; ".join(_new(step)) if against == step.before else "",
        }
        for step in steps
        for against, distances in ((step.stock, step.from_stock), (step.before, step.from_before))
        for distance in distances
    ]
    return pd.DataFrame(rows, columns=list(WORTH_COLUMNS)).drop_duplicates(ignore_index=True)
