"""The one table of all that was measured. Immutable; data frames are made from it at the edge.

A :class:`MeasuredSubject` is everything measured of one subject: a pluck or a quiet stretch on one
channel, the two outputs of a voice together, or one output of a voice over all its plucks. What is
learnt later of a subject makes a new one (:meth:`MeasuredSubject.joined`); none is ever changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import Flag, flags_cell
from tonecompare.measure.measured import Measured
from tonecompare.quantities.columns import BLEND, MEASUREMENTS, QUIET, VOICES
from tonecompare.quantities.meanings import ERROR_ENDING, meaning_of
from tonecompare.takes.plucks.passages import event_of

if TYPE_CHECKING:
    import pandas as pd

#: Contract columns of each kind of subject, and what names a subject of that kind.
_COLUMNS = {"plucks": MEASUREMENTS, "quiet": QUIET, "blend": BLEND, "voices": VOICES}
_NAMES = {
    "plucks": ("stage", "voice", "output", "file", "channel", "pluck", "note", "string"),
    "quiet": ("stage", "voice", "output", "file", "channel", "quiet"),
    "blend": ("stage", "voice", "note"),
    "voices": ("stage", "voice", "output"),
}
#: Columns of a frame by type; all others are floating point, NaN where unmeasured.
_TEXT = ("stage", "voice", "output", "file", "note", "event")
_COUNTS = ("channel", "pluck", "quiet", "n_plucks", "n_notes")
_OPTIONAL_COUNTS = ("string", "polarity", "fuller_polarity")


@dataclass(frozen=True, slots=True)
class Subject:
    """What was measured.

    Attributes
    ----------
    kind
        "plucks", "quiet", "blend" (two outputs together) or "voices" (an output, all its plucks).
    stage, voice, output, file, note
        As in the tables, "" where it does not apply.
    channel, pluck, quiet
        Numbers from 1 as in the tables, None where it does not apply.
    string
        1 is the thinnest, None where it is not known.
    """

    kind: str
    stage: str
    voice: str
    output: str = ""
    file: str = ""
    channel: int | None = None
    pluck: int | None = None
    quiet: int | None = None
    note: str = ""
    string: int | None = None


@dataclass(frozen=True, slots=True)
class MeasuredSubject:
    """All numbers of one subject, by column name, and the flags that belong to them."""

    subject: Subject
    quantities: Mapping[str, Measured]
    flags: tuple[Flag, ...] = ()

    def value(self, name: str) -> float | None:
        """Return the value of a column, None where it was not measured."""
        measured = self.quantities.get(name)
        return None if measured is None else measured.value

    def uncertainty(self, name: str) -> float | None:
        """Return the standard uncertainty of a value, None where it is not known.

        An uncertainty of 0 says that nothing is known of the noise (no quiet): not known too.
        """
        measured = self.quantities.get(name)
        if measured is None or measured.value is None:
            return None
        return measured.uncertainty or None

    def joined(
        self, quantities: Mapping[str, Measured], flags: Sequence[Flag] = ()
    ) -> MeasuredSubject:
        """Return the subject with numbers added or in place of others, and flags at the end."""
        return replace(
            self,
            quantities={**self.quantities, **quantities},
            flags=tuple(dict.fromkeys((*self.flags, *flags))),
        )

    def cells(self) -> dict[str, object]:
        """Return the subject as a row of its frame, uncertainties beside their values."""
        row = {name: getattr(self.subject, name) for name in _NAMES[self.subject.kind]}
        row["flags"] = self.flags
        if self.subject.kind == "plucks":
            row["event"] = event_of(self.subject.note)
        for name in self.quantities:
            row[name] = self.value(name)
            if (error := _error_column(name)) is not None:
                row[error] = self.uncertainty(name)
        return row


@dataclass(frozen=True, slots=True)
class MeasuredRow:
    """One measured number with all that belongs to it; names as in :class:`Subject`.

    ``value`` is in ``unit``, None where it was not measured; ``reason`` then says why.
    ``uncertainty`` is the standard uncertainty, None where unknown; ``window_s`` counts from the
    onset, or from the start of the quiet. ``flags`` are those of the subject.
    """

    stage: str
    voice: str
    output: str
    file: str
    channel: int | None
    pluck: int | None
    quiet: int | None
    note: str
    quantity: str
    value: float | None
    uncertainty: float | None
    unit: str
    window_s: tuple[float, float] | None
    method: str
    reason: str
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True)
class MeasurementTable:
    """All that was measured in a session, in the order of its recordings."""

    subjects: tuple[MeasuredSubject, ...] = ()

    def rows(self) -> tuple[MeasuredRow, ...]:
        """Return a row per measured number."""
        return tuple(
            MeasuredRow(
                of.stage, of.voice, of.output, of.file, of.channel, of.pluck, of.quiet, of.note,
                name, measured.value, each.uncertainty(name), measured.unit, measured.window_s,
                measured.method, measured.reason, each.flags,
            )
            for each in self.subjects
            for of in (each.subject,)
            for name, measured in each.quantities.items()
        )  # fmt: skip

    def long_frame(self) -> pd.DataFrame:
        """Return the rows as a frame, flags as text."""
        import pandas as pd

        names = [each.name for each in fields(MeasuredRow)]
        cells = [[getattr(row, name) for name in names] for row in self.rows()]
        frame = pd.DataFrame(cells, columns=names)
        if len(frame):
            text = {each.flags: flags_cell(each.flags) for each in self.subjects}
            frame["flags"] = [text[flags] for flags in frame["flags"]]
            for name in ("channel", "pluck", "quiet"):
                frame[name] = frame[name].astype("Int64")
        return frame

    def to_frame(self, kind: str) -> pd.DataFrame:
        """Return a frame with a row per subject of a kind: contract columns first, others after.

        Parameters
        ----------
        kind
            "plucks", "quiet", "blend" or "voices".

        Returns
        -------
        DataFrame
            Standard uncertainties in columns named after their value's; ``flags`` as tuples.
        """
        import pandas as pd

        columns = _COLUMNS[kind]
        frame = pd.DataFrame([each.cells() for each in self.subjects if each.subject.kind == kind])
        extra = [name for name in frame.columns if name not in columns]
        frame = frame.reindex(columns=[*columns, *extra])
        for name in frame.columns:
            if name == "flags":
                frame[name] = frame[name].astype(object)
            elif name in _TEXT:
                frame[name] = frame[name].fillna("").astype(object)
            elif name in _COUNTS:
                frame[name] = frame[name].astype("int64")
            elif name in _OPTIONAL_COUNTS:
                frame[name] = frame[name].astype("Int64")
            else:
                frame[name] = frame[name].astype("float64")
        return frame.copy()  # one block: columns set one by one leave it in pieces


@cache
def _error_column(name: str) -> str | None:
    """Name of the column of a quantity's standard uncertainty, None where it has none."""
    meaning = meaning_of(name)
    if name in (*_COUNTS, *_OPTIONAL_COUNTS) or (meaning is not None and meaning.no_error):
        return None
    return "delay_se_us" if name == "delay_us" else f"{name}{ERROR_ENDING}"


def float_column(frame: pd.DataFrame, name: str) -> FloatArray:
    """Return a column, NaN where it is empty, no number or absent, as an array of its own."""
    if name not in frame.columns:
        return np.full(len(frame), np.nan)
    column = frame[name]
    if column.dtype == np.float64:
        return column.to_numpy(copy=True)
    import pandas as pd

    return pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
