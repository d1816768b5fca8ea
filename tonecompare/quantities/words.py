"""What each quantity is called and how its changes are said in words, in the language spoken.

One entry per column of ``measurements.csv`` and ``quiet.csv`` that a difference can be taken of.
The words for up and down say what was measured and nothing else: brightness is the spectral
centroid, and more of it is "brightness 12 % higher", not "brighter".
"""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.language import tr, tr_later
from tonecompare.quantities.compared import QUANTITIES
from tonecompare.quantities.entry import Entry, Said, numbered
from tonecompare.quantities.registry import ENTRIES, PARTIAL_LEVELS

#: How a rise and a fall are said where an entry has no words of its own, alone and of two guitars.
_UP, _DOWN = tr_later("{noun} up by {{}}"), tr_later("{noun} down by {{}}")
_ABOVE, _BELOW = tr_later("{noun} {{}} higher"), tr_later("{noun} {{}} lower")


@dataclass(frozen=True)
class QuantityWords:
    """Names and phrases of one quantity; ``{}`` in ``up`` and ``down`` takes the size."""

    name: str
    label: str
    #: Unit of the quantity's own value, as in its column name.
    unit: str
    up: str
    down: str
    #: The same as comparatives, for two guitars: "{} louder", before "than its sister".
    above: str
    below: str
    #: How it is named where it did not change: "decay unchanged within 6 %".
    noun: str
    definition: str
    #: What is compared, in plain words.
    compared: str = ""


def _said(text: str, n: int) -> str:
    return numbered(tr(text), n)


def _words(entry: Entry, said: Said, column: str, n: int) -> QuantityWords:
    noun = _said(said.noun, n)
    return QuantityWords(
        column,
        _said(said.label, n),
        entry.unit,
        _said(said.up, n) or tr(_UP, noun=noun),
        _said(said.down, n) or tr(_DOWN, noun=noun),
        _said(said.above or said.up, n) or tr(_ABOVE, noun=noun),
        _said(said.below or said.down, n) or tr(_BELOW, noun=noun),
        noun,
        tr(entry.text),
        _said(entry.compared.label, n) if entry.compared else "",
    )


#: Entry and number within its family of every column that is spoken of.
_SPOKEN_OF = {
    column: (entry, n)
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
_SHOWN_FIRST = {
    column for entry in ENTRIES if entry.said and entry.said.headline for column in entry.columns
}
#: What the table of verdicts and the findings speak of, in order.
HEADLINE = tuple(one.column for one in QUANTITIES if one.column in _SHOWN_FIRST)


def words_for(quantity: str) -> QuantityWords:
    """Return the words of a quantity; a plain entry under its own name when it has none."""
    entry, n = _SPOKEN_OF.get(quantity, (None, 0))
    if entry is not None and entry.said is not None:
        return _words(entry, entry.said, quantity, n)
    up, down, above, below = (tr(way, noun=quantity) for way in (_UP, _DOWN, _ABOVE, _BELOW))
    return QuantityWords(
        quantity, quantity, "", up, down, above, below, quantity, "", compared=quantity
    )
