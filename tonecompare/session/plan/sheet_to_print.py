"""The take sheet: an HTML page to print on A4 or Letter and tick off at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING

from tonecompare.language import language, tr, tr_as, tr_later, tr_n
from tonecompare.session.model import AGAIN, CHORDS, PLUCKS, RIFF, TIMES, Voice
from tonecompare.session.plan.plan_model import Plan, PlannedNote
from tonecompare.session.plan.playing import CHORDS_PLANNED, how_played, played_s, what_shows
from tonecompare.session.plan.repeats import (
    AssumedSpread,
    repeats_needed,
    smallest_change,
    spreads_with,
)
from tonecompare.session.plan.time_budget import stage_minutes

if TYPE_CHECKING:
    from markupsafe import Markup

TEMPLATE = "takesheet.html.j2"
#: How many plucks show what, with how that is worked out: off the sheet for the bench.
REPEATS_FILE, REPEATS_TEMPLATE = "how-many-plucks.html", "repeats.html.j2"
#: Stands where the plucks show no change at all.
_NOTHING = "–"
_OUTPUTS = {"piezo": tr_later("piezo alone"), "blend": tr_later("blend, as you set it")}
#: What each quantity of the table is called within a sentence.
_NOUNS = {
    "level_dbfs": tr_later("level"),
    "centroid_hz": tr_later("brightness"),
    "decay_s": tr_later("decay time"),
    "cents": tr_later("pitch"),
}


@dataclass(frozen=True)
class RepeatsRow:
    """One row of the table of repeats, in words."""

    label: str
    spread: str
    spread_from: str
    change: str
    needed_one_note: str
    needed_all_notes: str
    shown_one_note: str
    shown_all_notes: str
    #: Whether the plan shows the smallest change that matters, over all notes.
    enough: bool
    #: The quantity within a sentence.
    noun: str


def take_sheet(plan: Plan) -> str:
    """Return the take sheet of a plan as one self-contained HTML page.

    The first page is the short form: what to keep equal, what a recording holds, cautions. A page
    or more per stage follows, with a box for every pluck, to tick on paper or on a phone.
    """
    options = plan.options
    return _laid_out(
        TEMPLATE,
        plan=plan,
        options=options,
        shows=_shows(spread_rows(plan)),
        repeats_file=REPEATS_FILE,
        notes=len(plan.notes),
        repeats=range(1, options.repeats + 1),
        grid=_grid(plan.notes),
        minutes=minutes_of(plan),
        voice_text=voice_text,
        is_again=lambda voice: voice.name.endswith(AGAIN),
        frets=sorted(set(options.frets)),
        plucked=PLUCKS in options.play,
        chords=range(1, CHORDS_PLANNED + 1) if CHORDS in options.play else (),
        riffs=(1,) if RIFF in options.play else (),
        times=range(1, TIMES + 1),
        how=how_played(options.play),
        can_show=what_shows(options.play),
    )


def repeats_page(plan: Plan) -> str:
    """Return how many plucks show what, and how that is worked out, as one HTML page."""
    return _laid_out(
        REPEATS_TEMPLATE,
        plan=plan,
        options=plan.options,
        rows=spread_rows(plan),
        notes=len(plan.notes),
    )


def _laid_out(template: str, **values: object) -> str:
    from jinja2 import Environment, StrictUndefined

    source = files("tonecompare.session.plan").joinpath("templates", template)
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.globals.update(tr=tr, tr_n=tr_n, tr_as=tr_as, language=language)
    environment.filters["filled"] = _filled
    return environment.from_string(source.read_text(encoding="utf-8")).render(**values)


def _filled(text: str, **values: object) -> Markup:
    """Fill the places of a text, with markup where that is given."""
    from markupsafe import escape

    return escape(text).format(**values)


def _shows(rows: Sequence[RepeatsRow]) -> str:
    """Say what the plucks of all notes show: ``0.4 dB in level, 5 % in decay time``."""
    known = [row for row in rows if row.shown_all_notes != _NOTHING]
    said = [tr("{size} in {noun}", size=row.shown_all_notes, noun=row.noun) for row in known]
    return ", ".join(said) or tr("nothing yet: it takes two plucks of a note or more")


def spread_rows(plan: Plan) -> list[RepeatsRow]:
    """Return, for each quantity, the repeats its smallest change needs and what the plan shows."""
    options = plan.options
    spreads = spreads_with(options.measured_spreads, options.smallest_changes)
    return [_spread_row(spread, options.repeats, len(plan.notes)) for spread in spreads]


def _spread_row(spread: AssumedSpread, repeats: int, notes: int) -> RepeatsRow:
    def needed(count: int) -> str:
        number = repeats_needed(spread.smallest_change, spread.sd, notes=count)
        return tr("out of reach") if number is None else str(number)

    def shown(count: int) -> str:
        change = smallest_change(repeats, spread.sd, notes=count)
        return _NOTHING if change is None else f"{_digits(change)} {tr(spread.unit)}"

    noun = tr(_NOUNS[spread.quantity])
    over_all = smallest_change(repeats, spread.sd, notes=notes)
    return RepeatsRow(
        label=tr(spread.label),
        spread=f"{_digits(spread.sd)} {tr(spread.unit)}",
        spread_from=tr(spread.source),
        change=f"{_digits(spread.smallest_change)} {tr(spread.unit)}",
        needed_one_note=needed(1),
        needed_all_notes=needed(notes),
        shown_one_note=shown(1),
        shown_all_notes=shown(notes),
        enough=over_all is not None and over_all <= spread.smallest_change,
        noun=noun,
    )


def voice_text(voice: Voice) -> str:
    """Return how to set the guitar for a voice, as far as the plan knows it."""
    parts = [" + ".join(voice.pickups)] if voice.pickups not in ((), (voice.name,)) else []
    if voice.split:
        parts.append(tr("split: one coil"))
    if len(voice.outputs) > 1:
        parts.append(tr("stereo jack: channel 1 magnetic, channel 2 piezo"))
    elif voice.outputs[0] != "magnetic":
        parts.append(tr(_OUTPUTS[voice.outputs[0]]))
    if voice.name.endswith(AGAIN):
        parts.append(tr("the first voice once more"))
    return ", ".join(parts)


def _digits(value: float) -> str:
    """Return two significant digits, without exponent."""
    decimals = 0 if value >= 10.0 else 1 if value >= 1.0 else 2
    return f"{value:.{decimals}f}".replace(".", tr_as("decimal mark", "."))


def _grid(notes: tuple[PlannedNote, ...]) -> list[tuple[int, list[PlannedNote]]]:
    """Return (string number, its notes), thickest string first."""
    strings: dict[int, list[PlannedNote]] = {}
    for note in notes:
        strings.setdefault(note.string, []).append(note)
    return list(strings.items())


def minutes_of(plan: Plan) -> int:
    """Return about how long one stage takes to record."""
    more_s = played_s(plan.options.play)
    minutes = stage_minutes(len(plan.voices), plan.plucks_per_voice, played_s=more_s)
    return max(5, round(minutes / 5.0) * 5)
