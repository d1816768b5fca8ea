"""What was measured in the quiet: hum, buzz and hiss of every stage, voice and output."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pandas as pd

from tonecompare.compare.curves.quiet_spectrum import middle
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.measure.flags import UNMEASURED
from tonecompare.quantities.columns import QUIET
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import MINUS, NOT_MEASURED, with_unit

#: Column, heading and unit of each cell.
COLUMNS = (
    ("mains_hz", tr_later("Mains"), "Hz"),
    ("hum_dbfs", tr_later("Hum"), "dBFS"),
    ("buzz_dbfs", tr_later("Buzz"), "dBFS"),
    ("hiss_dbfs", tr_later("Hiss"), "dBFS"),
    ("noise_a_dbfs", tr_later("A-weighted"), "dBFS"),
    ("signal_to_hum_db", tr_later("Signal to hum"), "dB"),
)

#: A minus in a reason, written with the hyphen of the CSV.
_HYPHEN = re.compile(r"(?<!\w)-(?=\d)")


@dataclass(frozen=True)
class QuietRow:
    """One stage, voice and output; ``cells`` follow :data:`COLUMNS`."""

    stage: str
    voice: str
    cells: tuple[str, ...]
    stretches: str


def quiet_rows(quiet: pd.DataFrame) -> tuple[QuietRow, ...]:
    """Return a row per stage, voice and output: medians over its quiet stretches."""
    if not len(quiet):
        return ()
    outputs: dict[str, set[str]] = {}
    for voice, output in zip(quiet["voice"], quiet["output"], strict=True):
        outputs.setdefault(str(voice), set()).add(str(output))
    rows = []
    for (stage, voice, output), group in quiet.groupby(["stage", "voice", "output"], sort=False):
        length = pd.to_numeric(group["length_s"], errors="coerce").sum()
        rows.append(
            QuietRow(
                str(stage),
                voice_title(
                    str(voice), output=str(output), several_outputs=len(outputs[str(voice)]) > 1
                ),
                tuple(_cell(group, column, unit) for column, _, unit in COLUMNS),
                f"{tr_n('{n} stretch', '{n} stretches', len(group))}, "
                f"{with_unit(float(length), 's', uncertainty=0.5)}",
            )
        )
    return tuple(rows)


def _cell(group: pd.DataFrame, column: str, unit: str) -> str:
    value = middle(group[column])
    if value is None:
        return _why_missing(group, column)
    uncertainty = 0.005 if unit == "Hz" else None
    return with_unit(value, unit, uncertainty=uncertainty)


def _why_missing(group: pd.DataFrame, column: str) -> str:
    """Say why a column is empty, as the flags of the longest stretch that says so have it."""
    longest_first = group.sort_values("length_s", ascending=False, kind="stable")
    for flags in longest_first["flags"]:
        for flag in flags:
            if flag.code == UNMEASURED and column in _columns(*flag.data[:2]):
                return _not_measured(_HYPHEN.sub(MINUS, tr(flag.data[2])))
    words = next((flags for flags in longest_first["flags"] if flags), ())
    if not words or any(flag.code == UNMEASURED for flag in words):
        return tr(NOT_MEASURED)
    return _not_measured(", ".join(tr(flag.text) for flag in words))


def _not_measured(why: str) -> str:
    return f"{tr(NOT_MEASURED)} ({why})"


def _columns(first: str, last: str) -> tuple[str, ...]:
    """Return the columns from the first to the last that a reason speaks of."""
    return QUIET[QUIET.index(first) : QUIET.index(last) + 1]
