"""Rows of ``differences.csv`` as frozen data, and how large one is in hearing thresholds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.difference.verdicts import WEAK_DB
from tonecompare.quantities.compared import QUANTITIES
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.session.model import ComparedSide

if TYPE_CHECKING:
    import pandas as pd

#: The note of a row that holds over all notes both stages share.
ALL_NOTES = "all"
#: Verdicts, the one that claims most first.
STRONGEST_FIRST = ("likely-audible", "measurable", "confounded", "undecided", "no-change")
#: Where one quantity is given in several units, the unit people are shown.
_PREFERRED_UNITS = ("dB", "%", "cents", "")
#: Partials and bands weaker than this on both sides, re all of them, are left to the tables.
_WEAKEST_DB = {
    quantity.column: WEAK_DB[quantity.family]
    for quantity in QUANTITIES
    if quantity.family in WEAK_DB
}
#: More plucks than this are no advice.
_MOST_PLUCKS = 50


@dataclass(frozen=True)
class Difference:
    """One difference. Numbers that were not measured are None."""

    comparison: str
    before: str
    after: str
    voice: str
    output: str
    note: str
    quantity: str
    unit: str
    before_value: float | None
    after_value: float | None
    difference: float | None
    ci_low: float | None
    ci_high: float | None
    n_before: int
    n_after: int
    hearing_threshold: float | None
    verdict: str
    reason: str
    #: Ends of the unheard band, in ``unit``; they differ where falls and rises are heard unlike.
    threshold_low: float | None = None
    threshold_high: float | None = None
    #: Plucks per note still needed to settle an undecided difference, None when not sensible.
    more_plucks: int | None = None
    #: The difference with what explains it taken out, and the kinds of confound that were.
    adjusted: tuple[float, float, float] | None = None
    adjusted_for: tuple[str, ...] = ()
    control_difference: float | None = None
    #: The difference before the control's own was taken out.
    raw_difference: float | None = None
    n_notes: int = 0
    #: Whether two guitars of one model are compared.
    sisters: bool = False
    #: Whether it rests on chords or riffs alone, on no single note.
    played: bool = False

    @property
    def in_thresholds(self) -> float | None:
        """The difference counted in hearing thresholds, signed; None when either is missing."""
        return self._ratio(self.difference)

    @property
    def interval_in_thresholds(self) -> tuple[float, float] | None:
        """The interval counted in hearing thresholds."""
        low, high = self._ratio(self.ci_low), self._ratio(self.ci_high)
        return None if low is None or high is None else (low, high)

    @property
    def surely_thresholds(self) -> float:
        """Hearing thresholds the difference has at least: the near end of the interval, else 0.

        Ranks by size and certainty at once: a large difference with a wide interval and a small
        one with a narrow interval both come after one that is large and sure.
        """
        ends = self.interval_in_thresholds
        if ends is None or ends[0] <= 0 <= ends[1]:
            return 0.0
        return min(abs(ends[0]), abs(ends[1]))

    @property
    def claimed(self) -> bool:
        """Whether the recordings show it: likely audible, or measurable."""
        return self.verdict in CLAIMS

    @property
    def telling(self) -> tuple[int, float, float]:
        """Ranks what speaks for several: by verdict, then the surest, then the largest.

        A large difference that the takes leave open says less than a small one that they show.
        """
        known = self.verdict in STRONGEST_FIRST
        place = STRONGEST_FIRST.index(self.verdict) if known else len(STRONGEST_FIRST)
        return -place, self.surely_thresholds, abs(self.in_thresholds or 0.0)

    @property
    def between_voices(self) -> bool:
        """Whether two different voices are compared, so that nothing between them is work."""
        return ComparedSide.named(self.before).voice != ComparedSide.named(self.after).voice

    @property
    def side_by_side(self) -> bool:
        """Whether nothing "changed" from one side to the other: two voices, or two guitars."""
        return self.between_voices or self.sisters

    @property
    def matters(self) -> bool:
        """Whether a partial or band is strong enough to be spoken of (anything else always is).

        The null of a comb moves by tens of dB with the picking place, far below everything else. A
        band that only one note reaches says nothing of the voice; a riff is many notes.
        """
        weakest = _WEAKEST_DB.get(self.quantity)
        if weakest is None:
            return True
        one_note = self.note == ALL_NOTES and self.n_notes == 1 and not self.played
        if self.quantity in BAND_SHAPES and one_note:
            return False
        levels = [v for v in (self.before_value, self.after_value) if v is not None]
        return max(levels, default=-math.inf) >= weakest

    @property
    def below_threshold(self) -> bool:
        """Whether the whole interval lies inside the hearing threshold."""
        ends = self.interval_in_thresholds
        return ends is not None and max(abs(ends[0]), abs(ends[1])) <= 1.0

    def _ratio(self, value: float | None) -> float | None:
        """Count ``value`` in the hearing threshold of the side it points to."""
        if value is None:
            return None
        side = self.threshold_low if value < 0 else self.threshold_high
        threshold = side if side is not None else self.hearing_threshold
        return None if threshold is None or threshold == 0 else value / abs(threshold)


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError):
        return None
    return number if math.isfinite(number) else None


def _count(value: Any) -> int:
    number = _number(value)
    return 0 if number is None else int(number)


def _text(value: Any) -> str:
    return "" if value is None or (isinstance(value, float) and math.isnan(value)) else str(value)


def _all_three(numbers: tuple[float | None, ...]) -> tuple[float, float, float] | None:
    value, low, high = numbers
    return None if value is None or low is None or high is None else (value, low, high)


def _difference(row: dict[str, Any]) -> Difference:
    more = _number(row.get("more_plucks"))
    adjusted = tuple(
        _number(row.get(name))
        for name in ("difference_adjusted", "ci_low_adjusted", "ci_high_adjusted")
    )
    return Difference(
        comparison=_text(row.get("comparison")),
        before=_text(row.get("before")),
        after=_text(row.get("after")),
        voice=_text(row.get("voice")),
        output=_text(row.get("output")),
        note=_text(row.get("note")),
        quantity=_text(row.get("quantity")),
        unit=_text(row.get("unit")),
        before_value=_number(row.get("before_value")),
        after_value=_number(row.get("after_value")),
        difference=_number(row.get("difference")),
        ci_low=_number(row.get("ci_low")),
        ci_high=_number(row.get("ci_high")),
        n_before=_count(row.get("n_before")),
        n_after=_count(row.get("n_after")),
        hearing_threshold=_number(row.get("hearing_threshold")),
        verdict=_text(row.get("verdict")),
        reason=_text(row.get("reason")),
        threshold_low=_number(row.get("threshold_low")),
        threshold_high=_number(row.get("threshold_high")),
        more_plucks=None if more is None or more > _MOST_PLUCKS else math.ceil(more),
        adjusted=_all_three(adjusted),
        adjusted_for=tuple(row.get("adjusted_for") or ()),
        control_difference=_number(row.get("control_difference")),
        raw_difference=_number(row.get("raw_difference")),
        n_notes=_count(row.get("n_notes")),
        sisters=bool(row.get("sisters", False)),
        played=bool(row.get("played", False)),
    )


def rows_of(differences: pd.DataFrame, *, note: str | None = ALL_NOTES) -> list[Difference]:
    """Read the rows of one note (None: of every note), in the table's order.

    Where a quantity stands in several units, only the row in the unit shown to people is kept.
    """
    if not len(differences):
        return []
    wanted = differences if note is None else differences[differences["note"] == note]
    best: dict[tuple[str, ...], Difference] = {}
    for record in wanted.to_dict("records"):
        row = _difference({str(key): value for key, value in record.items()})
        key = (row.comparison, row.voice, row.output, row.note, row.quantity)
        if key not in best or _unit_rank(row.unit) < _unit_rank(best[key].unit):
            best[key] = row
    return list(best.values())


def _unit_rank(unit: str) -> int:
    return _PREFERRED_UNITS.index(unit) if unit in _PREFERRED_UNITS else len(_PREFERRED_UNITS)
