"""What each column of each CSV file means, in plain words: the one text for explain and the page.

One entry per column or per family of columns that mean the same (``h01_db`` … ``h24_db``). A
column that ends in ``_se`` has no entry of its own: it is the standard error of the one it is
named after.
"""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.quantities.columns import HUM_LINES, PARTIAL_DECAYS, PARTIAL_LEVELS

#: Tables of a report, each a CSV file of this name.
TABLES = ("measurements", "quiet", "differences", "blend", "voices", "worth", "drift")
#: How the name of a standard error's column ends.
ERROR_ENDING = "_se"
STANDARD_ERROR = (
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
        What it means, in plain words, as whole sentences.
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


_M, _Q, _D, _B, _V, _W, _R = ((name,) for name in TABLES)
_MEAN = "It is a mean over plucks."
_DECISION = "Where a note or a quiet ends is a decision, made to about 0.01 s."

#: Every entry, in the order it is listed.
MEANINGS: tuple[Meaning, ...] = (
    Meaning(("stage",), (*_M, *_Q, *_B, *_V, *_W, *_R), "",
            "The instrument's state of work, such as heron-rewound."),
    Meaning(("voice",), (*_M, *_Q, *_D, *_B, *_V, *_R), "",
            "The sound that was selected: selector position, coil split, piezo, blend."),
    Meaning(("output",), (*_M, *_Q, *_D, *_V, *_R), "",
            "What the channel carries: magnetic, piezo or blend."),
    Meaning(("file", "channel"), (*_M, *_Q), "",
            "The recording, and its channel, counted from 1."),
    Meaning(("pluck",), _M, "", "Number of the pluck in its file, counted from 1."),
    Meaning(("note",), (*_M, *_D, *_B), "",
            'The note by name, such as E2; "all" is over the notes both sides share.'),
    Meaning(("string",), _M, "", "Number of the string; 1 is the thinnest."),
    Meaning(("onset_s",), _M, "s",
            "When the string was let go, from the start of the file. One set by hand, or that the "
            "file begins with, has no standard error."),
    Meaning(("ring_s",), _M, "s", "For how long the note rang.", _DECISION),
    Meaning(("f0_hz",), _M, "Hz", "Pitch: the frequency of the fundamental."),
    Meaning(("cents",), _M, "cents",
            "How far the pitch lies from the note in equal temperament; 100 cents are a semitone."),
    Meaning(("peak_dbfs",), _M, "dBFS",
            "The highest single sample. At 0 the input was overdriven."),
    Meaning(("level_dbfs",), _M, "dBFS",
            "How strong the note is over the half second after the attack (RMS over 0.05–0.55 s "
            "after the onset), noise taken off. 0 dBFS is a sine as large as the converter takes. "
            "10 dB sounds roughly twice as loud, 1 dB is about the least one hears."),
    Meaning(("snr_db",), _M, "dB", "How far the note stands above the noise."),
    Meaning(("attack_ms",), _M, "ms",
            "Where the energy of the first 50 ms lies: 25 is a level that is there at once and "
            "stays, less is a harder attack, more a swell."),
    Meaning(("centroid_hz",), _M, "Hz",
            "The balance point of the spectrum over 0.05–1.05 s, 60 Hz to 12 kHz, noise taken "
            "off: higher goes with brighter, though ears weigh more than that."),
    Meaning(("tilt_db_per_octave",), _M, "dB/octave",
            "How fast the partials fall off towards the treble; one 35 dB below the strongest "
            "counts half, weaker ones less."),
    Meaning(PARTIAL_LEVELS, _M, "dB",
            "Harmonic balance: each partial against all of them together, over the window of "
            "level_dbfs. h1 is the fundamental."),
    Meaning(("odd_even_db",), _M, "dB",
            "Odd partials against even ones. Near 0 on an ideal string as long as picking place "
            "and pickup, taken together, stay within half the sounding string from the bridge; "
            "beyond that (fretted notes, neck pickup) it moves strongly with both."),
    Meaning(("tristimulus_1", "tristimulus_2", "tristimulus_3"), _M, "share",
            "The share of the fundamental, of partials 2 to 4, and of the rest (Pollard & "
            "Jansson 1982)."),
    Meaning(("decay_s",), _M, "s",
            "Seconds until the note has faded by 60 dB, drawn on from its fall between −5 and "
            "−25 dB (Schroeder 1965). A damped or cut note uses only what rang. A decay has to "
            "change by a quarter or more before one is likely to hear it."),
    Meaning(("decay_early_s", "decay_late_s"), _M, "s",
            "As decay_s, from the first 10 dB, and from −25 to −45 dB: many notes fall fast, then "
            "slowly."),
    Meaning(PARTIAL_DECAYS, _M, "s", "As decay_s, for one partial alone."),
    Meaning(("inharmonicity",), _M, "",
            "How much the partials stretch upwards: thick plain strings have more than thin or "
            "wound ones, and at the 12th fret it is about four times that of the open string."),
    Meaning(("pluck_point",), _M, "share",
            "Where the string was plucked, from the bridge, as a share of its length. Levels "
            "cannot tell a place from its mirror image, so it counts from the nearer end; where "
            "that is likely the other end, or another place explains the pluck as well, flags "
            "says so."),
    Meaning(("strength_db",), _M, "dB",
            "How hard the string was picked, as its partials show it; only differences within one "
            "voice mean something.", _MEAN),
    Meaning(("ring_along_db", "ring_along_string"), _M, "dB",
            "The loudest open string that sounds beside the note, 0.3 to 1.3 s after the attack, "
            "against the note, and its number (1 is the thinnest). Only what lies between the "
            "note's partials is counted, so it is at least that loud. Flags name strings that "
            "rang before the pluck already, and partials that an open string shares."),
    Meaning(("flags",), (*_M, *_Q, *_B, *_V), "",
            "Why a cell is empty, and what a number rests on. An empty cell is never a zero."),
    Meaning(("quiet",), _Q, "", "Number of the quiet stretch in its file, counted from 1."),
    Meaning(("start_s", "length_s"), _Q, "s",
            "Where the quiet begins in its file, and how long it is.", _DECISION),
    Meaning(("mains_hz",), _Q, "Hz", "The mains frequency as found in the quiet."),
    Meaning(("hum_dbfs",), _Q, "dBFS",
            "The mains lines up to 1 kHz together while the strings are damped. Hum depends on "
            "place and direction: only same place, same direction, same gain compare."),
    Meaning(HUM_LINES, _Q, "dBFS", "One mains line alone."),
    Meaning(("buzz_dbfs",), _Q, "dBFS",
            "Mains lines above 1 kHz: dimmers, power supplies, poor screening."),
    Meaning(("hiss_dbfs",), _Q, "dBFS", "The rest of the noise, 20 Hz to 20 kHz."),
    Meaning(("noise_a_dbfs",), _Q, "dBFS",
            "All noise, weighted by how well one hears it (A curve of IEC 61672-1)."),
    Meaning(("signal_to_hum_db",), _Q, "dB", "How far the notes of a voice stand above its hum."),
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
    Meaning(("n_notes",), (*_D, *_V, *_R), "", "How many notes the row rests on."),
    Meaning(("pickup_point", "pickup_distance_mm"), _V, "share; mm",
            "Where the pickup sits: its distance from the bridge as a share of the scale length, "
            "and in mm when that is known."),
    Meaning(("resonance_hz", "resonance_q"), _V, "Hz; plain",
            "The peak of pickup, cable and input together, and how sharp it is."),
    Meaning(("coil_spacing_mm",), _V, "mm", "How far apart the two coils of the pickup are."),
    Meaning(("comparison", "before", "after"), _D, "",
            "The comparison and its two sides: a stage each, or stage/voice."),
    Meaning(("quantity", "label"), (*_D, *_R), "",
            "What is compared: its column, and its name in plain words."),
    Meaning(("family",), (*_D, *_W), "",
            "The group of quantities that are judged together, such as level or decay."),
    Meaning(("unit",), (*_D, *_R), "",
            "Unit of the difference. Levels are compared in dB, times and frequencies as ratios "
            "in percent."),
    Meaning(("before_value", "after_value"), _D, "",
            "What the two stages measured, mean over the notes."),
    Meaning(("ci_low", "ci_high"), (*_D, *_W, *_R), "",
            "The 95 % interval of the difference, or of the distance in worth.csv."),
    Meaning(("difference",), (*_D, *_R), "",
            "After against before in unit; the control's drift taken out where there is one. "
            "Plucks of one note are repeats, not independent evidence, so a "
            "difference over all notes weighs notes equally."),
    Meaning(("raw_difference", "raw_ci_low", "raw_ci_high", "control_difference"), _D, "",
            "The difference and its interval before the control's drift was taken out, and that "
            "drift."),
    Meaning(("n_before", "n_after"), _D, "", "Plucks, or quiet stretches, on the two sides."),
    Meaning(("n_first", "n_again"), _R, "",
            "Plucks, or quiet stretches, in the first recording and in its repeat."),
    Meaning(("p_value", "p_adjusted"), (*_D, *_R), "",
            "How often plucks alone would give a difference like it if nothing had changed, alone "
            "and with all the differences of the report counted."),
    Meaning(("hearing_threshold",), _D, "", "The least that is heard, in unit."),
    Meaning(("threshold_low", "threshold_high"), (*_D, *_R), "",
            "The least fall and the least rise that are heard, in unit."),
    Meaning(("verdict",), _D, "", "What the numbers allow one to say."),
    Meaning(("reason",), (*_D, *_W), "", "Why the verdict is what it is, or a cell is empty."),
    Meaning(("difference_adjusted", "ci_low_adjusted", "ci_high_adjusted", "adjusted_for"), _D, "",
            "The difference with all confounds found for it taken out, its interval, and which."),
    Meaning(("more_plucks",), _D, "",
            "How many more plucks of each note, or quiet stretches, would settle it."),
    Meaning(("instrument", "against"), _W, "",
            "The guitar that was worked on, and the stage it is compared with."),
    Meaning(("distance", "voices"), _W, "hearing thresholds",
            "How far a step moved the sound, in hearing thresholds, over so many voices."),
    Meaning(("parts_cost", "hours", "money", "total_money", "total_hours"), _W, "",
            "What a step cost in parts, hours and money, and all steps up to it together."),
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
