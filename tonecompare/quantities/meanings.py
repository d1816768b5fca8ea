"""What each column of each CSV file means, in plain words: the one text for explain and the page.

One entry per column or per family of columns that mean the same (``h01_db`` … ``h24_db``). A
column that ends in ``_se`` has no entry of its own: it is the standard error of the one it is
named after.
"""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.language import tr_later
from tonecompare.quantities.registry import ENTRIES

#: Tables of a report, each a CSV file of this name.
TABLES = (
    "measurements",
    "quiet",
    "differences",
    "blend",
    "voices",
    "worth",
    "drift",
    "side_by_side",
)
#: How the name of a standard error's column ends.
ERROR_ENDING = "_se"
STANDARD_ERROR = tr_later(
    "The standard error of the column it is named after: on synthetic takes the truth lies within "
    "it in some 68 % of cases and within twice of it in 95 %. It is how well this pluck was "
    "measured; how much plucks differ is what repeats are for."
)


@dataclass(frozen=True)
class Meaning:
    """What one column, or one family of columns, means.

    Parameters
    ----------
    columns
        Names of the columns, as in the heads of the CSV files.
    tables
        The tables of :data:`TABLES` they stand in.
    unit
        Unit of the values, "" for a plain number or text.
    text
        What it means, in plain words, as whole sentences; ``tr`` says it.
    no_error
        Why a measured number has no standard error, "" where it has one or is no measured number.
    """

    columns: tuple[str, ...]
    tables: tuple[str, ...]
    unit: str
    text: str
    no_error: str = ""

    @property
    def title(self) -> str:
        """Return the names to head the entry with: of a long family the first and last."""
        if len(self.columns) <= 3:
            return ", ".join(self.columns)
        return f"{self.columns[0]} … {self.columns[-1]}"


_M, _Q, _D, _B, _V, _W, _R, _S = ((name,) for name in TABLES)
_MEAN = tr_later("It is a mean over plucks.")

#: Every entry, in the order it is listed.
MEANINGS: tuple[Meaning, ...] = (
    *(Meaning(one.columns, one.tables, one.unit, one.text, one.no_error) for one in ENTRIES),
    Meaning(("delay_us",), _B, "µs",
            "Electronic delay of the piezo; positive is later. Empty when the takes cannot tell."),
    Meaning(("lag_us",), _B, "µs",
            "Lag of the piezo as the waves alone show it, the travel along the string included: "
            "it differs from string to string and is no fault.", _MEAN),
    Meaning(("polarity",), _B, "",
            "Whether the outputs push the same way (1) or not (−1); empty when the takes cannot "
            "tell."),
    Meaning(("coherence",), _B, "", "How far one output follows from the other, 0 to 1.", _MEAN),
    Meaning(("level_difference_db",), _B, "dB",
            "Level of the piezo less that of the magnetic output.", _MEAN),
    Meaning(("transient_magnetic_db", "transient_piezo_db"), _B, "dB",
            "The hard attack players call quack: peak of the first 20 ms over what sounds from "
            "100 to 500 ms.", _MEAN),
    Meaning(("fuller_polarity",), _B, "",
            "Which blend is fuller: as wired (1) or with one output inverted (−1); empty when it "
            "makes no difference."),
    Meaning(("n_plucks",), _V, "", "How many plucks the row rests on."),
    Meaning(("n_notes",), (*_D, *_V, *_R, *_S), "", "How many notes the row rests on."),
    Meaning(("comparison", "before", "after"), _D, "",
            "The comparison and its two sides: a stage each, or stage/voice. Pairs that only the "
            "tables of guitars and of worth rest on stand last, corrected among themselves."),
    Meaning(("against_voice", "against_output"), _S, "",
            "The voice, and its output, that this one is set against, in the same stage."),
    Meaning(("quantity",), (*_D, *_R, *_S), "", "What is compared, by the name of its column."),
    Meaning(("label",), (*_D, *_R), "", "What is compared, in plain words."),
    Meaning(("family",), (*_D, *_W), "",
            "The group of quantities that are judged together, such as level or decay."),
    Meaning(("unit",), (*_D, *_R, *_S), "",
            "Unit of the difference. Levels are compared in dB, times and frequencies as ratios "
            "in percent."),
    Meaning(("before_value", "after_value"), _D, "",
            "What the two stages measured, mean over the notes."),
    Meaning(("ci_low", "ci_high"), (*_D, *_W, *_R, *_S), "",
            "The 95 % interval of the difference, or of the distance in worth.csv."),
    Meaning(("difference",), (*_D, *_R, *_S), "",
            "After against before in unit, or one voice against another as recorded; the "
            "control's drift, and what causes other than the work account for (adjusted_for), "
            "taken out where there is some. "
            "Plucks of one note are repeats, not independent evidence, so a "
            "difference over all notes weighs notes equally."),
    Meaning(("raw_difference", "raw_ci_low", "raw_ci_high", "control_difference"), _D, "",
            "The difference and its interval as recorded, before the control's drift and other "
            "causes were taken out, and that drift."),
    Meaning(("n_before", "n_after"), _D, "",
            "Plucks, times a chord or riff was played, or quiet stretches, on the two sides."),
    Meaning(("n_first", "n_again"), _R, "",
            "Plucks, or quiet stretches, in the first recording and in its repeat."),
    Meaning(("p_value", "p_adjusted"), (*_D, *_R), "",
            "How often the repeats alone would give a difference like it if nothing had changed, "
            "alone and with all the differences of the report counted."),
    Meaning(("hearing_threshold",), (*_D, *_S), "", "The least that is heard, in unit."),
    Meaning(("threshold_low", "threshold_high"), (*_D, *_R), "",
            "The least fall and the least rise that are heard, in unit."),
    Meaning(
        ("verdict",), _D, "",
        "What the numbers allow one to say. Empty where no difference is shown and nobody knows "
        "how small a difference of its kind is heard.",
    ),
    Meaning(("reason",), (*_D, *_W), "", "Why the verdict is what it is, or a cell is empty."),
    Meaning(("difference_adjusted", "ci_low_adjusted", "ci_high_adjusted"), _D, "",
            "The difference and its interval with a drift of the stage allowed for."),
    Meaning(("adjusted_for",), _D, "",
            "Which causes other than the work were taken out of difference."),
    Meaning(("sisters",), _D, "",
            "Whether the two sides are different guitars of one model (True or False)."),
    Meaning(("played",), _D, "",
            "Whether the row rests on chords or riffs alone, not on single notes (True or False)."),
    Meaning(("more_plucks",), _D, "",
            "How many more plucks of each note, times played, or quiet stretches, would settle "
            "it."),
    Meaning(("instrument", "against"), _W, "",
            "The guitar that was worked on, and the stage it is compared with."),
    Meaning(("distance", "voices"), _W, "hearing thresholds",
            "How far a step moved the sound, in hearing thresholds, over so many voices."),
    Meaning(("parts_cost", "hours", "money", "total_money", "total_hours"), _W, "",
            "What a step cost in parts, hours and money, and all steps up to it together."),
    Meaning(("new_voices",), _W, "",
            "The voices that the stage has and the stage before it has not; empty where it is set "
            "against an earlier one."),
    Meaning(("drift",), _R, "", "What the repeat at the end of the stage says: whether it held."),
)  # fmt: skip

_BY_COLUMN = {column: meaning for meaning in MEANINGS for column in meaning.columns}


def meaning_of(column: str) -> Meaning | None:
    """Return the entry of a column, of the column it is the standard error of, or None.

    Parameters
    ----------
    column
        A name from the head of a CSV file, such as ``h03_db`` or ``decay_s_se``.
    """
    stem = column.removesuffix(ERROR_ENDING)
    if column == "delay_se_us":
        stem = "delay_us"
    return _BY_COLUMN.get(column) or _BY_COLUMN.get(stem)


def is_error(column: str) -> bool:
    """Return whether a column holds the standard error of another."""
    return column.endswith(ERROR_ENDING) or column == "delay_se_us"
