"""What each quantity is called and how its changes are said in words.

One entry per column of ``measurements.csv`` and ``quiet.csv`` that a difference can be taken of.
The words for up and down say what was measured and nothing else: a higher spectral centroid is
"spectral centroid 12 % higher", not "brighter".
"""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.quantities.columns import HUM_LINES, N_HUM_LINES, PARTIAL_DECAYS, PARTIAL_LEVELS


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


def _rises(
    name: str, label: str, unit: str, noun: str, definition: str, *, headline: bool
) -> QuantityWords:
    return QuantityWords(
        name, label, unit, f"{noun} up by {{}}", f"{noun} down by {{}}", noun, definition, headline
    )


_PLUCK = (
    QuantityWords(
        "level_dbfs", "Level", "dBFS", "{} louder", "{} quieter", "level",
        "RMS over 0.05–0.55 s after the onset, the power of the quiet subtracted, in dBFS.", True,
    ),
    QuantityWords(
        "centroid_hz", "Centroid", "Hz", "spectral centroid {} higher",
        "spectral centroid {} lower", "spectral centroid",
        "Magnitude-weighted mean frequency of the averaged spectrum over 0.05–1.05 s, 60 Hz–12 "
        "kHz, the quiet subtracted. It goes with what players call brightness but is not the same.",
        True,
    ),
    QuantityWords(
        "tilt_db_per_octave", "Tilt", "dB/octave", "spectral tilt {} more to the treble",
        "spectral tilt {} more to the bass", "spectral tilt",
        "Straight line through the partial levels over the logarithm of frequency, "
        "in dB per octave.",
    ),
    QuantityWords(
        "odd_even_db", "Odd/even", "dB", "odd partials {} stronger against the even ones",
        "odd partials {} weaker against the even ones", "odd/even balance",
        "10 lg of the power of the odd over that of the even partials. It moves strongly with the "
        "picking place.",
    ),
    QuantityWords(
        "decay_s", "Decay", "s", "decay {} longer", "decay {} shorter", "decay",
        "T60 from the −5 to −25 dB slope of the backward-integrated energy (Schroeder 1965), the "
        "quiet subtracted. A damped or cut note uses only what rang.", True,
    ),
    QuantityWords(
        "attack_ms", "Attack", "ms", "attack {} later", "attack {} earlier", "attack",
        "Where the energy of the first 50 ms lies, as its centre in time: 25 ms is a level that is "
        "there at once and stays, less a harder attack, more a swell.", True,
    ),
    QuantityWords(
        "decay_early_s", "Early decay", "s", "early decay {} longer", "early decay {} shorter",
        "early decay", "T60 from the 0 to −10 dB slope of the same curve.",
    ),
    QuantityWords(
        "decay_late_s", "Late decay", "s", "late decay {} longer", "late decay {} shorter",
        "late decay", "T60 from the −25 to −45 dB slope, where the recording allows.",
    ),
    _rises("peak_dbfs", "Peak", "dBFS", "peak", "Highest sample, in dB re 1.0.", headline=False),
    _rises("cents", "Tuning", "cents", "tuning", "Distance from the note's pitch in equal "
           "temperament, in cents.", headline=False),
    _rises("f0_hz", "Pitch", "Hz", "pitch", "Frequency of the fundamental.", headline=False),
    _rises("snr_db", "Signal to noise", "dB", "signal to noise", "Level over everything the quiet "
           "carries.", headline=False),
    _rises("tristimulus_1", "Tristimulus 1", "share", "share of the fundamental", "Amplitude of "
           "the fundamental over the sum of partial amplitudes (Pollard & Jansson 1982).",
           headline=False),
    _rises("tristimulus_2", "Tristimulus 2", "share", "share of partials 2 to 4", "Amplitudes of "
           "partials 2–4 over the sum.", headline=False),
    _rises("tristimulus_3", "Tristimulus 3", "share", "share of partials 5 and up", "Amplitudes of "
           "partials 5 and up over the sum.", headline=False),
    _rises("inharmonicity", "Inharmonicity", "", "inharmonicity", "B in f_n = n·f0·√(1 + B·n²).",
           headline=False),
    QuantityWords(
        "pluck_point", "Picking place", "share", "picked {} farther from the bridge",
        "picked {} nearer to the bridge", "picking place",
        "Distance of the pick from the bridge over the sounding length.",
    ),
)  # fmt: skip

_QUIET = (
    _rises("hum_dbfs", "Hum", "dBFS", "hum", "Power sum of the mains lines up to 1 kHz while the "
           "strings are damped, in dBFS. It depends on place and direction.", headline=True),
    _rises("buzz_dbfs", "Buzz", "dBFS", "buzz", "Power sum of the mains lines above 1 kHz.",
           headline=True),
    _rises("hiss_dbfs", "Hiss", "dBFS", "hiss", "What is left without the mains lines, "
           "20 Hz–20 kHz.", headline=True),
    _rises("noise_a_dbfs", "Noise (A)", "dBFS", "A-weighted noise", "Everything in the quiet, the "
           "A curve of IEC 61672-1 applied, as A-weighted dBFS.", headline=False),
    _rises("signal_to_hum_db", "Signal to hum", "dB", "signal-to-hum ratio", "Level of the plucks "
           "over the hum.", headline=True),
    _rises("mains_hz", "Mains", "Hz", "mains frequency", "Mains frequency found in the quiet.",
           headline=False),
)  # fmt: skip


def _partial(index: int, column: str) -> QuantityWords:
    return _rises(
        column, f"Partial {index}", "dB", f"partial {index}",
        "Level of one partial over 0.05–0.55 s, in dB re the power sum of partials 1–24.",
        headline=False,
    )  # fmt: skip


def _partial_decay(index: int, column: str) -> QuantityWords:
    noun = f"decay of partial {index}"
    return QuantityWords(
        column, f"Decay of partial {index}", "s", f"{noun} {{}} longer", f"{noun} {{}} shorter",
        noun, "T60 of one partial alone.",
    )  # fmt: skip


def _hum_line(index: int, column: str) -> QuantityWords:
    return _rises(
        column, f"Hum line {index}", "dBFS", f"hum line {index}",
        f"Mains line {index} of {N_HUM_LINES}, in dBFS.", headline=False,
    )  # fmt: skip


#: Every quantity by its column name, in the order of the tables.
WORDS: dict[str, QuantityWords] = {
    words.name: words
    for words in (
        *(words for words in _PLUCK if words.headline),
        *_QUIET,
        *(words for words in _PLUCK if not words.headline),
        *(_partial(n, name) for n, name in enumerate(PARTIAL_LEVELS, start=1)),
        *(_partial_decay(n, name) for n, name in enumerate(PARTIAL_DECAYS, start=1)),
        *(_hum_line(n, name) for n, name in enumerate(HUM_LINES, start=1)),
    )
}
#: Quantities of single partials, which the table of verdicts shows in one column.
PARTIALS = PARTIAL_LEVELS
#: Quantities measured in the quiet: their n counts quiet stretches.
IN_QUIET = frozenset(words.name for words in _QUIET) | frozenset(HUM_LINES)
#: What the table of verdicts and the findings speak of, in order.
HEADLINE = tuple(name for name, words in WORDS.items() if words.headline)


def words_for(quantity: str) -> QuantityWords:
    """Return the words of a quantity; a plain entry under its own name when it has none."""
    known = WORDS.get(quantity)
    if known is not None:
        return known
    return _rises(quantity, quantity, "", quantity, "", headline=False)
