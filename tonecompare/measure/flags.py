"""Flags: what is to be known beside a number, as a code with its data; the text is made here alone.

A code without data is its own text (``damped``). Every other code has its line in
:data:`_TEXTS`. Who asks for a flag asks for its code and reads its data, never its text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

#: Codes with data, and the data: columns from first to last and why they are empty.
UNMEASURED = "unmeasured"
#: Orders of the partials whose two components beat, and the slowest beat in Hz.
BEATING = "beating"
#: Orders of the partials whose fit ended before it had come to rest.
UNSETTLED = "unsettled"
#: Frequency of a tone that is no mains line, whole Hz.
TONE = "tone"
#: Mains frequencies in Hz: where the lines stand, and what was asked for.
HUM_ELSEWHERE = "hum-elsewhere"
#: The picking point as counted from the other end, a share of the length.
OTHER_END = "other-end"
#: The notes of a chord, lowest first; how many notes and chords a riff holds.
NOTES, EVENTS = "notes", "events"
#: Codes without data: short bursts in the quiet; decay_s from half of its range; the joint fit of
#: a voice's plucks ended before it had come to rest.
BURSTS, SHORT_DECAY, PLACES_UNSETTLED = "bursts", "short-decay", "places-unsettled"

_SEPARATOR = "; "


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing to know about measured numbers.

    Attributes
    ----------
    code
        What kind of thing: a word of :mod:`tonecompare.takes` or of this module.
    data
        Its numbers and names, as the comment beside the code says.

    Examples
    --------
    >>> Flag("tone", (7999,)).text
    'tone-7999-hz'
    """

    code: str
    data: tuple[Any, ...] = ()

    @property
    def text(self) -> str:
        """The flag as the cell ``flags`` of a CSV file has it."""
        return _TEXTS[self.code](*self.data) if self.code in _TEXTS else self.code

    @property
    def is_word(self) -> bool:
        """Whether the text is one short word, without a reason."""
        return self.code not in _SENTENCES


def _orders(orders: Iterable[int]) -> str:
    return " ".join(f"h{order:02d}" for order in orders)


def _unmeasured(first: str, last: str, reason: str) -> str:
    return f"{first}{'…' + last if last != first else ''}: {reason}"


_SENTENCES: Mapping[str, Callable[..., str]] = {
    UNMEASURED: _unmeasured,
    BEATING: lambda orders, hz: f"beating {_orders(orders)} from {hz:.1f} Hz",
    UNSETTLED: lambda orders: f"unsettled {_orders(orders)}",
    PLACES_UNSETTLED: lambda: "the fit of all plucks had not come to rest",
    SHORT_DECAY: lambda: "decay_s from -5 to -15 dB only",
    OTHER_END: lambda place: (
        "pluck_point: counted from the nearer end, where the others were picked lies beyond "
        f"mid-string here ({place:.2f})"
    ),
}
_TEXTS: Mapping[str, Callable[..., str]] = {
    **_SENTENCES,
    NOTES: lambda *names: " ".join(names),
    EVENTS: lambda number: f"{number} events",
    TONE: lambda hz: f"tone-{hz}-hz",
    HUM_ELSEWHERE: lambda stands, asked: f"hum-at-{stands}-hz-not-{asked}",
}


def words(*codes: str) -> tuple[Flag, ...]:
    """Return codes without data as flags."""
    return tuple(Flag(code) for code in codes)


def unmeasured_flag(reason: str, first: str, last: str = "") -> Flag:
    """Return the flag that says why a column, or a run of columns, is empty."""
    return Flag(UNMEASURED, (first, last or first, reason))


def flags_cell(flags: Iterable[Flag]) -> str:
    """Return the cell ``flags`` of a CSV file: each flag once, apart by ``; ``.

    A semicolon within a flag becomes a comma, so that splitting gives the flags back.

    Examples
    --------
    >>> flags_cell([Flag("damped"), unmeasured_flag("fell by 10 dB; 25 dB are needed", "decay_s")])
    'damped; decay_s: fell by 10 dB, 25 dB are needed'
    """
    texts = (flag.text.replace(";", ",") for flag in flags)
    return _SEPARATOR.join(dict.fromkeys(text for text in texts if text))


def with_flags_as_text(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose column ``flags`` is text, for a file, a screen or a reader."""
    if "flags" not in table.columns:
        return table
    return table.assign(flags=[flags_cell(flags) for flags in table["flags"]])
