"""The registry: every measured column, an entry each. A new quantity is one more entry here.

The order of the entries is that of the columns in ``measurements.csv`` and ``quiet.csv``, which is
a contract: add entries at the end of their table's part, never move or rename one.
"""

from __future__ import annotations

from tonecompare.quantities.entry import Entry, HowCompared, Said, cents_as_ratio
from tonecompare.quantities.octave_bands import BAND_DECAYS, BAND_LEVELS, BAND_SHAPES
from tonecompare.quantities.quiet_and_voice_entries import OF_QUIET_AND_VOICES
from tonecompare.quantities.usual_spread import band_spread_db, partial_spread_db, shape_spread_db

N_PARTIALS = 24
N_DECAY_PARTIALS = 12
PARTIAL_LEVELS = tuple(f"h{n:02d}_db" for n in range(1, N_PARTIALS + 1))
PARTIAL_DECAYS = tuple(f"decay_h{n:02d}_s" for n in range(1, N_DECAY_PARTIALS + 1))

#: Partials up to this one are heard out singly under good conditions (from memory: five to eight).
LAST_LOW_PARTIAL = 8
MEASURED = ("measurements",)


def partial_threshold(n: int) -> str:
    """Name the hearing threshold of the level of partial n."""
    return "partial" if n <= LAST_LOW_PARTIAL else "high partial"


#: Every measured column.
ENTRIES: tuple[Entry, ...] = (
    Entry(
        ("stage",),
        ("measurements", "quiet", "blend", "voices", "worth", "drift", "side_by_side"), "",
        "The instrument's state of work, such as heron-rewound.",
    ),
    Entry(
        ("voice",),
        ("measurements", "quiet", "differences", "blend", "voices", "drift", "side_by_side"), "",
        "The sound that was selected: selector position, coil split, piezo, blend.",
    ),
    Entry(
        ("output",),
        ("measurements", "quiet", "differences", "voices", "drift", "side_by_side"), "",
        "What the channel carries: magnetic, piezo or blend.",
    ),
    Entry(
        ("file", "channel"), ("measurements", "quiet"), "",
        "The recording, and its channel, counted from 1.",
    ),
    Entry(
        ("pluck",), MEASURED, "",
        "Number of the pluck in its file, counted from 1.",
    ),
    Entry(
        ("note",), ("measurements", "differences", "blend"), "",
        'The note by name, such as E2; "all" is over the notes both sides share.',
    ),
    Entry(
        ("string",), MEASURED, "",
        "Number of the string; 1 is the thinnest.",
    ),
    Entry(
        ("onset_s",), MEASURED, "s",
        "When the first motion of the string reaches the coil or the saddle, from the start of "
        "the file: up to some 2 ms after the pick let go, by its way along the string. One set by "
        "hand, or that the file begins with, has no standard error.",
    ),
    Entry(
        ("ring_s",), MEASURED, "s",
        "For how long the note rang.",
        no_error="Where a note or a quiet ends is a decision, made to about 0.01 s.",
    ),
    Entry(
        ("f0_hz",), MEASURED, "Hz",
        "Pitch: the frequency of the fundamental.",
        said=Said("Pitch", "pitch"),
    ),
    Entry(
        ("cents",), MEASURED, "cents",
        "How far the pitch lies from the note in equal temperament; 100 cents are a "
        "semitone.",
        said=Said("Tuning", "tuning"),
        compared=HowCompared("tuning", "tuning", ("cents",), threshold="pitch", lead=True),
        spread=0.45,
    ),
    Entry(
        ("peak_dbfs",), MEASURED, "dBFS",
        "The highest single sample. At 0 the input was overdriven.",
        said=Said("Peak", "peak"),
    ),
    Entry(
        ("level_dbfs",), MEASURED, "dBFS",
        "How strong the note is over the half second after the attack (RMS over "
        "0.05–0.55 s after the onset), noise taken off. 0 dBFS is a sine as large as "
        "the converter takes. 10 dB sounds roughly twice as loud, 1 dB is about the "
        "least one hears.",
        said=Said("Level", "level", up="{} louder", down="{} quieter", headline=True),
        compared=HowCompared("level", "level", ("dB",), threshold="level", lead=True),
        moved_by={"gain": 1, "load": 1},
        spread=0.6,
    ),
    Entry(
        ("snr_db",), MEASURED, "dB",
        "How far the note stands above the noise.",
        said=Said("Signal to noise", "signal to noise"),
    ),
    Entry(
        ("attack_ms",), MEASURED, "ms",
        "Where the energy of the first 50 ms lies: 25 is a level that is there at "
        "once and stays, less is a harder attack, more a swell.",
        said=Said("Attack", "attack", up="attack {} later", down="attack {} earlier",
                  headline=True),
        compared=HowCompared("attack time", "attack", ("%",), ratio=True, threshold="attack",
                          lead=True),
        spread=0.15,
    ),
    Entry(
        ("centroid_hz",), MEASURED, "Hz",
        "The balance point of the spectrum (spectral centroid) over 0.05–1.05 s, 60 Hz to "
        "12 kHz, noise taken off: higher goes with brighter, though ears weigh more than that.",
        said=Said("Brightness", "brightness", up="brightness {} higher",
                  down="brightness {} lower", headline=True),
        compared=HowCompared("brightness", "spectrum", ("%", "cents"),
                          ratio=True, threshold="centroid", lead=True),
        moved_by={"load": 1, "quiet": 1, "strings": 1}, spread=cents_as_ratio(47.0),
    ),
    Entry(
        ("tilt_db_per_octave",), MEASURED, "dB/octave",
        "How fast the partials fall off towards the treble; one 35 dB below the "
        "strongest counts half, weaker ones less.",
        said=Said("Tilt", "spectral tilt", up="spectral tilt {} more to the treble",
                  down="spectral tilt {} more to the bass"),
        compared=HowCompared("tilt of the spectrum", "spectrum", ("dB/octave",)),
        moved_by={"load": 1, "quiet": 1, "strings": 1},
        spread=0.3,
    ),
    Entry(
        ("odd_even_db",), MEASURED, "dB",
        "Odd partials against even ones. Near 0 on an ideal string as long as picking"
        " place and pickup, taken together, stay within half the sounding string from"
        " the bridge; beyond that (fretted notes, neck pickup) it moves strongly with"
        " both.",
        said=Said("Odd/even", "odd/even balance",
                  up="odd partials {} stronger against the even ones",
                  down="odd partials {} weaker against the even ones"),
        compared=HowCompared("odd over even partials", "spectrum", ("dB",)),
        spread=1.0,
    ),
    Entry(
        ("tristimulus_1",), MEASURED, "share",
        "The share of the fundamental in the partials' amplitudes (Pollard & Jansson 1982).",
        said=Said("Tristimulus 1", "share of the fundamental"),
        compared=HowCompared("share of partial 1", "spectrum", ("share",)),
        moved_by={"load": 1, "quiet": 1, "strings": 1}, spread=0.02,
    ),
    Entry(
        ("tristimulus_2",), MEASURED, "share",
        "The share of partials 2 to 4 in the partials' amplitudes.",
        said=Said("Tristimulus 2", "share of partials 2 to 4"),
        compared=HowCompared("share of partials 2 to 4", "spectrum", ("share",)),
        moved_by={"load": 1, "quiet": 1, "strings": 1}, spread=0.02,
    ),
    Entry(
        ("tristimulus_3",), MEASURED, "share",
        "The share of partials 5 and up in the partials' amplitudes.",
        said=Said("Tristimulus 3", "share of partials 5 and up"),
        compared=HowCompared("share of partials 5 and up", "spectrum", ("share",)),
        moved_by={"load": 1, "quiet": 1, "strings": 1}, spread=0.02,
    ),
    Entry(
        PARTIAL_LEVELS, MEASURED, "dB",
        "Harmonic balance: each partial against all of them together, over the window"
        " of level_dbfs. h1 is the fundamental.",
        said=Said("Partial {n}", "partial {n}"),
        compared=HowCompared(
            "level of partial {n}", "partials", ("dB",), threshold=partial_threshold
        ),
        moved_by={"load": 4, "quiet": 8, "strings": 8}, spread=partial_spread_db,
    ),
    Entry(
        ("decay_s",), MEASURED, "s",
        "Seconds until the note has faded by 60 dB, drawn on from its fall between −5"
        " and −25 dB (Schroeder 1965). A damped or cut note uses only what rang. A "
        "decay has to change by a quarter or more before one is likely to hear it.",
        said=Said("Decay", "decay", up="decay {} longer", down="decay {} shorter", headline=True),
        compared=HowCompared(
            "decay time", "decay", ("%",), ratio=True, threshold="decay", lead=True
        ),
        moved_by={"strings": 1}, spread=0.05,
    ),
    Entry(
        ("decay_early_s",), MEASURED, "s",
        "As decay_s, from the first 10 dB: many notes fall fast, then slowly.",
        said=Said("Early decay", "early decay", up="early decay {} longer",
                  down="early decay {} shorter"),
        compared=HowCompared("early decay time", "decay", ("%",), ratio=True, threshold="decay"),
        moved_by={"strings": 1}, spread=0.05,
    ),
    Entry(
        ("decay_late_s",), MEASURED, "s",
        "As decay_s, from −25 to −45 dB, where the recording allows.",
        said=Said("Late decay", "late decay", up="late decay {} longer",
                  down="late decay {} shorter"),
        compared=HowCompared("late decay time", "decay", ("%",), ratio=True, threshold="decay"),
        moved_by={"quiet": 1, "strings": 1}, spread=0.05,
    ),
    Entry(
        PARTIAL_DECAYS, MEASURED, "s",
        "As decay_s, for one partial alone.",
        said=Said("Decay of partial {n}", "decay of partial {n}",
                  up="decay of partial {n} {} longer", down="decay of partial {n} {} shorter"),
        compared=HowCompared("decay time of partial {n}", "decay", ("%",), ratio=True,
                          threshold="decay"),
        moved_by={"quiet": 8, "strings": 1}, spread=0.05,
    ),
    Entry(
        ("inharmonicity",), MEASURED, "",
        "How much the partials stretch upwards: thick plain strings have more than "
        "thin or wound ones, and at the 12th fret it is about four times that of the "
        "open string.",
        said=Said("Inharmonicity", "inharmonicity"),
        compared=HowCompared("inharmonicity", "tuning", ("%",), ratio=True),
        moved_by={"strings": 1},
        spread=0.1,
    ),
    Entry(
        ("pluck_point",), MEASURED, "share",
        "Where the string was plucked, from the bridge, as a share of its length. "
        "Levels cannot tell a place from its mirror image, so it counts from the "
        "nearer end; where that is likely the other end, or another place explains "
        "the pluck as well, flags says so.",
        said=Said("Picking place", "picking place", up="picked {} farther from the bridge",
                  down="picked {} nearer to the bridge"),
        compared=HowCompared("picking place", "picking", ("share",), lead=True),
        spread=0.01,
    ),
    Entry(
        ("flags",), ("measurements", "quiet", "blend", "voices"), "",
        "Why a cell is empty, and what a number rests on. An empty cell is never a zero. "
        "Some examples: damped, the note was stopped by hand; decay_s from -5 to -15 dB only, the "
        "note was cut early and its decay is good to about 18 %; beating h04 from 0.2 Hz, two "
        "components of that partial beat; unsettled h01, the fit of that partial had not come to "
        "rest when its steps were used up; hum-at-50-hz-not-60, another mains frequency was asked "
        "for than the hum has; outputs-exchanged, the two channels look swapped, so what rests on "
        "which is which does not hold.",
    ),
    Entry(
        BAND_LEVELS, MEASURED, "dBFS",
        "Level of one octave band (IEC 61260-1, named by its middle in Hz) over the window of "
        "level_dbfs, noise taken off: 63 deep bass, 125 bass, 250 low mids, 500 and 1000 mids, "
        "2000 upper mids, 4000 presence, 8000 treble. Empty where no partial of the note lies in "
        "the band, or where it does not stand above the noise.",
        said=Said("{band}", "level of the {band}", up="{band} {} louder",
                  down="{band} {} quieter"),
        compared=HowCompared("level of the {band}", "bands", ("dB",), threshold="shape"),
        moved_by={"gain": 1, "load": 1}, spread=band_spread_db,
    ),
    Entry(
        BAND_SHAPES, MEASURED, "dB",
        "Shape of the sound: one octave band against all eight together, so that louder or "
        "quieter alone moves none of them. Some 3 dB more or less in a band are heard as "
        "darker, brighter, fuller or thinner.",
        said=Said("{band}", "share of the {band}", up="{band} {} up", down="{band} {} down",
                  above="{band} {} higher", below="{band} {} lower"),
        compared=HowCompared("{band} against the whole", "shape", ("dB",), threshold="shape",
                             lead=True),
        moved_by={"load": 5, "quiet": 6, "strings": 6}, spread=shape_spread_db,
    ),
    Entry(
        ("likeness",), MEASURED, "share",
        "Played passages only: how much of the first passage of the same music this one holds, by "
        "pitch classes laid over each other in time. Under 0.52 it is other music.",
        no_error="It is a share.",
    ),
    Entry(
        ("riff_offset_s",), MEASURED, "s",
        "Played passages only: from where, counted from its own onset, a clip has to begin to go "
        "along with the first passage of the same music.",
        no_error="Where a passage begins is good to some 20 ms, as the hand is.",
    ),
    Entry(
        BAND_DECAYS, MEASURED, "s",
        "Chords only: as decay_s, for one octave band alone.",
        said=Said("Decay of the {band}", "decay of the {band}",
                  up="decay of the {band} {} longer", down="decay of the {band} {} shorter"),
        compared=HowCompared("decay time of the {band}", "decay", ("%",), ratio=True,
                          threshold="decay"),
        moved_by={"quiet": 6, "strings": 1}, spread=0.05,
    ),
    Entry(
        ("event",), MEASURED, "",
        "What was played: note (one string), chord (several strings within 0.15 s), riff (notes "
        "and chords one after the other); empty where it could not be told. Partials, pitch and "
        "picking place are measured on notes alone, decays of bands on chords alone.",
    ),
    Entry(
        ("strength_db",), MEASURED, "dB",
        "How hard the string was picked, as its partials show it; only differences "
        "within one voice mean something.",
        no_error="It is a mean over plucks.", extra=True,
    ),
    Entry(
        ("glide_cents",), MEASURED, "cents",
        "By how much the note begins sharper than it goes on: a string pulled far aside is tighter."
        " A harder pluck glides more, whatever the pickup, so it tells the hand from the work.",
        extra=True,
    ),
    *OF_QUIET_AND_VOICES,
)  # fmt: skip
