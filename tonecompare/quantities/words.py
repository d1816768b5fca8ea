"""What each quantity is called and how its changes are said in words.

One entry per column of ``measurements.csv`` and ``quiet.csv`` that a difference can be taken of.
The words for up and down say what was measured and nothing else: a higher spectral centroid is
"spectral centroid 12 % higher", not "brighter".
"""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.quantities.compared import QUANTITIES
from tonecompare.quantities.entry import Entry, Said, numbered
from tonecompare.quantities.registry import ENTRIES, PARTIAL_LEVELS


@dataclass(frozen=True)
class QuantityWords:
    """Names and phrases of one quantity; ``{}`` in ``up`` and ``down`` takes the size."""

    name: str
    label: str
    #: Unit of the quantity's own value, as in its column name.
    unit: str
    up: str
    down: str
    #: How it is named where it did not change: "decay unchanged within 6 %".
    noun: str
    definition: str
    #: Stands in the table of verdicts and in the findings.
    headline: bool = False


def _words(entry: Entry, said: Said, column: str, n: int) -> QuantityWords:
    noun = numbered(said.noun, n)
    return QuantityWords(
        column,
        numbered(said.label, n),
        entry.unit,
        numbered(said.up, n) or f"{noun} up by {{}}",
        numbered(said.down, n) or f"{noun} down by {{}}",
        noun,
        entry.text,
        said.headline,
    )


#: Every quantity that is spoken of, by its column name.
WORDS: dict[str, QuantityWords] = {
    column: _words(entry, entry.said, column, n)
    for entry in ENTRIES
    if entry.said is not None
    for n, column in enumerate(entry.columns, start=1)
}
#: Quantities of single partials, which the table of verdicts shows in one column.
PARTIALS = PARTIAL_LEVELS
#: Quantities measured in the quiet: their n counts quiet stretches.
IN_QUIET = frozenset(
    column for entry in ENTRIES if entry.said is not None
    and "quiet" in entry.tables for column in entry.columns
)  # fmt: skip
#: What the table of verdicts and the findings speak of, in order.
HEADLINE = tuple(quantity.column for quantity in QUANTITIES if WORDS[quantity.column].headline)


def words_for(quantity: str) -> QuantityWords:
    """Return the words of a quantity; a plain entry under its own name when it has none."""
    known = WORDS.get(quantity)
    if known is not None:
        return known
    return QuantityWords(
        quantity, quantity, "", f"{quantity} up by {{}}", f"{quantity} down by {{}}", quantity, ""
    )
