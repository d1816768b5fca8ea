"""The table of verdicts, voice by quantity, as data for the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tonecompare.language import tr, tr_later
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, IN_QUIET, PARTIALS, words_for
from tonecompare.report.charts.chart_data import Compared, VoiceOutput
from tonecompare.report.difference_views import STRONGEST_FIRST, Difference
from tonecompare.report.words.finding_words.cause_names import cause_name
from tonecompare.report.words.numbers import (
    NOT_MEASURED,
    difference,
    difference_decimals,
    listed,
    number,
    signed_parts,
    unit_word,
    with_unit,
)
from tonecompare.report.words.phrases import DRIFT, NOT_SHOWN, VERDICT_WORDS, without

#: The columns of the bands and of the partials stand after the level.
_TONE_AT = 1
#: Verdicts beside which the table gives the difference with a confound taken out.
_CLAIMS = ("likely-audible", "measurable", "confounded")
#: Follows n where part of an interval is assumed, not measured.
PARTLY_ASSUMED = tr_later(", interval partly assumed")


@dataclass(frozen=True)
class VerdictCell:
    """One difference: ``kind`` is a verdict, "missing" (not measured) or "empty" (no such row).

    A difference that is not shown and has no hearing threshold has no verdict: ``kind`` is "".
    """

    kind: str
    symbol: str = ""
    words: str = ""
    value: str = ""
    interval: str = ""
    sample: str = ""
    extra: str = ""


@dataclass(frozen=True)
class VerdictRow:
    """One voice; ``anchor`` is the id of its section."""

    title: str
    anchor: str
    cells: tuple[VerdictCell, ...]


@dataclass(frozen=True)
class VerdictTable:
    """Columns and rows; ``headings`` holds (short name, what it is) per column."""

    headings: tuple[tuple[str, str], ...]
    rows: tuple[VerdictRow, ...]


@dataclass(frozen=True)
class DetailRow:
    """One quantity of one voice with its values on both sides."""

    label: str
    before: str
    after: str
    difference: str
    #: What was measured before the control's drift or a cause was taken out, empty without both.
    taken_out: str
    cell: VerdictCell
    reason: str


def verdict_table(
    comparison: Compared,
    titles: Mapping[VoiceOutput, str],
    anchors: Mapping[VoiceOutput, str],
) -> VerdictTable:
    """Return the table of one comparison: only columns that some voice has a row for."""
    present = {row.quantity for row in comparison.rows}
    columns = [name for name in HEADLINE if name in present]
    families = [
        (name, quantities)
        for name, quantities in ((tr("Bands"), BAND_SHAPES), (tr("Partials"), PARTIALS))
        if present & set(quantities)
    ]
    rows = []
    for voice in comparison.voices:
        of_voice = comparison.of(voice)
        by_quantity = {row.quantity: row for row in of_voice}
        cells = [cell_of(by_quantity.get(name)) for name in columns]
        cells[_TONE_AT:_TONE_AT] = [family_cell(of_voice, each) for _, each in families]
        rows.append(VerdictRow(titles[voice], anchors[voice], tuple(cells)))
    headings = [(words_for(name).label, words_for(name).definition) for name in columns]
    headings[_TONE_AT:_TONE_AT] = [
        (name, words_for(quantities[0]).definition) for name, quantities in families
    ]
    return VerdictTable(tuple(headings), tuple(rows))


def family_cell(rows: Sequence[Difference], quantities: Sequence[str]) -> VerdictCell:
    """Return one cell for bands or strong partials: the strongest verdict and whose it is."""
    measured = [row for row in rows if row.quantity in quantities and row.difference is not None]
    several = [row for row in measured if row.matters]
    if not several:
        return VerdictCell("missing", "–", tr(NOT_MEASURED))
    verdicts = [row.verdict for row in several]
    kind = next((name for name in STRONGEST_FIRST if name in verdicts), "no-change")
    group = [row for row in several if row.verdict == kind]
    top = max(group, key=lambda row: row.telling)
    cell = cell_of(top)
    return replace(
        cell,
        sample=tr(
            "{quantity}; {n}\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}{all}",
            quantity=_short(top.quantity),
            n=len(group),
            all=len(several),
        ),
    )


def _short(quantity: str) -> str:
    words = words_for(quantity)
    return words.label if quantity in BAND_SHAPES else words.noun


def cell_of(row: Difference | None) -> VerdictCell:
    """Return one cell: symbol, words, number, interval and n."""
    if row is None:
        return VerdictCell("empty")
    if row.difference is None:
        return VerdictCell("missing", "–", tr(NOT_MEASURED))
    symbol, words = VERDICT_WORDS.get(row.verdict, NOT_SHOWN)
    value, ends = signed_parts(row.difference, row.ci_low, row.ci_high, row.unit)
    return VerdictCell(
        row.verdict,
        symbol,
        tr(words),
        value,
        ends,
        f"n {row.n_before}/{row.n_after}"
        + (tr(PARTLY_ASSUMED) if ends and _one_stretch(row) else ""),
        without(row).removeprefix(", ") if row.verdict in _CLAIMS else "",
    )


def _one_stretch(row: Difference) -> bool:
    """Whether a side has one quiet stretch, so that how far recordings differ is assumed."""
    return row.quantity in IN_QUIET and min(row.n_before, row.n_after) == 1


def _taken_out(row: Difference) -> str:
    """Say what was measured before the control's drift or other causes were taken out of it."""
    if row.raw_difference is None:
        return ""
    decimals = difference_decimals(row.raw_difference, row.ci_low, row.ci_high, row.unit)

    def shown(value: float) -> str:
        return f"{number(value, decimals, signed=True)} {unit_word(row.unit)}".rstrip()

    measured = shown(row.raw_difference)
    causes = [cause_name(kind) for kind in row.adjusted_for if kind != DRIFT]
    control = row.control_difference
    if control is not None and causes:
        return tr(
            "measured {measured}, control {drift}; taken out besides: {causes}",
            measured=measured,
            drift=shown(control),
            causes=listed(causes),
        )
    if control is not None:
        return tr("measured {measured}, control {drift}", measured=measured, drift=shown(control))
    if causes:
        return tr(
            "measured {measured}; taken out: {causes}", measured=measured, causes=listed(causes)
        )
    return ""


def detail_rows(rows: Sequence[Difference]) -> tuple[DetailRow, ...]:
    """Return every quantity of one voice, with the values on both sides and the reason."""
    return tuple(
        DetailRow(
            words_for(row.quantity).label,
            own_value(row, row.before_value),
            own_value(row, row.after_value),
            ""
            if row.difference is None
            else difference(row.difference, row.ci_low, row.ci_high, row.unit),
            _taken_out(row),
            cell_of(row),
            row.reason,
        )
        for row in rows
    )


def note_table(
    rows: Sequence[Difference], voice: VoiceOutput, order: Mapping[str, float]
) -> VerdictTable | None:
    """Return the table of one voice note by note, lowest first; None without rows.

    Parameters
    ----------
    rows
        Rows of single notes of one comparison.
    voice
        Voice and output.
    order
        Pitch of each note.
    """
    of_voice = [row for row in rows if (row.voice, row.output) == voice]
    columns = [n for n in HEADLINE if n not in IN_QUIET and any(r.quantity == n for r in of_voice)]
    notes = sorted(
        dict.fromkeys(row.note for row in of_voice), key=lambda note: (order.get(note, 0.0), note)
    )
    if not columns or not notes:
        return None
    cells = {(row.note, row.quantity): cell_of(row) for row in of_voice}
    return VerdictTable(
        tuple((words_for(name).label, words_for(name).definition) for name in columns),
        tuple(
            VerdictRow(note, "", tuple(cells.get((note, n), VerdictCell("empty")) for n in columns))
            for note in notes
        ),
    )


def own_value(row: Difference, value: float | None) -> str:
    """Write a value in the quantity's own unit."""
    if value is None:
        return tr(NOT_MEASURED)
    return with_unit(value, words_for(row.quantity).unit)
