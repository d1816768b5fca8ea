"""Hearing thresholds: the published just-noticeable differences, with source and how sure.

Thresholds are bands, not truths: they came from other sounds, other listeners and mostly from
quiet laboratories. What the tool may say of a difference (in words):

- below one threshold: "not expected to be audible";
- one to two thresholds: "may be audible in direct comparison";
- beyond two thresholds and outside what re-plucking explains: "likely audible".

Nothing here earns "heard": only a passed blind test does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.errors import SessionError
from tonecompare.language import tr_later
from tonecompare.quantities.compared import QUANTITIES, Quantity

#: How sure a value is: seen in its source, seen in a second-hand account, or from memory. A value
#: from memory calls nothing likely audible.
SURE = ("source seen", "seen second-hand", "from memory")


@dataclass(frozen=True)
class HearingThreshold:
    """One just-noticeable difference.

    ``below`` and ``above`` are magnitudes in ``unit``: a fall smaller than ``below`` and a rise
    smaller than ``above`` are not expected to be audible. ``likely_at`` is how many thresholds a
    difference must pass to be called likely audible: 2 for a just-noticeable difference found
    under the best conditions, 1 for a tolerance that is wide already.
    """

    name: str
    label: str
    unit: str
    below: float
    above: float
    source: str
    sure: str
    likely_at: float = 2.0


#: The one table. Keys are the names that ``hearing_thresholds`` in session.toml may override.
THRESHOLDS: Mapping[str, HearingThreshold] = {
    threshold.name: threshold
    for threshold in (
        HearingThreshold(
            "level",
            "level",
            "dB",
            1.0,
            1.0,
            "rule of thumb for sounds of one kind (ISO 3382-1:2009 Table A.1 for G; pure tones "
            "0.5-1.25 dB: Jesteadt, Wier & Green, J. Acoust. Soc. Am. 61 (1977) 169-177)",
            "seen second-hand",
        ),
        HearingThreshold(
            "centroid",
            "brightness",
            "%",
            5.0,
            5.0,
            "half of 10 %, which lies beyond the 5-9 % within which the threshold was looked for "
            "(five partials at 440 Hz, steps of a tenth of that; Kendall, Difference Thresholds "
            "for Timbre related to Spectral Centroid, UCLA, method seen, results not)",
            "seen second-hand",
        ),
        HearingThreshold(
            "partial",
            "level of one partial",
            "dB",
            2.0,
            2.0,
            "middle of 1-3 dB under favourable conditions (Green 1988; Moore et al. 1989); the "
            "first partial of a vowel 3.2 dB on average, less where it leads "
            "(Kreiman & Gerratt, J. Acoust. Soc. Am. 128 (2010) 2085-2089, abstract seen); a "
            "change of one component is the easiest change of shape to hear, best in the middle of "
            "the spectrum (Green & Kidd 1983; Green, Onsan & Forrest 1987, abstracts seen, without "
            "a figure), so nothing is called likely audible",
            "from memory",
            likely_at=float("inf"),
        ),
        HearingThreshold(
            "high partial",
            "level of one high partial",
            "dB",
            2.0,
            2.0,
            "at least as for the low partials; to raise one of many tones by as little as is heard "
            "takes 5 dB more at 5 kHz than at 200 Hz (Green, Onsan & Forrest, J. Acoust. Soc. Am. "
            "81 (1987) 692, abstract seen), of three tones 20 dB more at 4 kHz than at 250 Hz (Dai "
            "& Green, J. Acoust. Soc. Am. 92 (1992), abstract seen), so nothing is called likely "
            "audible",
            "seen second-hand",
            likely_at=float("inf"),
        ),
        HearingThreshold(
            "shape",
            "level of an octave band against the whole",
            "dB",
            1.5,
            1.5,
            "half of the 3 dB by which an octave band of music must rise or fall for 70 % to hear "
            "it (Kin & Dobrucki, Arch. Acoust. 41 (2016), abstract seen; after an hour of loud "
            "listening); the best case is 0.25 dB for broad resonances in noise (Toole & Olive, "
            "J. Audio Eng. Soc. 36 (1988) 122-142)",
            "seen second-hand",
        ),
        HearingThreshold(
            "resonance",
            "resonance frequency",
            "%",
            5.0,
            5.0,
            "second-order filters of 300-2000 Hz and Q 1-36: 7.9 %/sqrt(Q), 5 % at Q 2.5 (Gagné & "
            "Zurek, Resonance-frequency discrimination, J. Acoust. Soc. Am. 83 (1988), abstract "
            "seen)",
            "source seen",
        ),
        HearingThreshold(
            "decay",
            "decay time",
            "%",
            25.0,
            40.0,
            "plucked strings: time constants 25 % shorter to 40 % longer go unheard (Tolonen & "
            "Järveläinen, AES preprint (2000); Järveläinen & Tolonen, J. Audio Eng. Soc. 49 (2001) "
            "1049-1059); the 5 % of ISO 3382-1 belongs to rooms",
            "source seen",
            likely_at=1.0,
        ),
        HearingThreshold(
            "pitch",
            "pitch",
            "cents",
            5.0,
            5.0,
            "pure tones of 500-2000 Hz: 0.2 %, 3.5 cents, 1-3 Hz below (Open University, Hearing, "
            "section 11.2, seen; data of Wier, Jesteadt & Green 1977), more for short or soft ones "
            "(Micheyl, Xiao & Oxenham, Hear. Res. 292 (2012), abstract seen); for tones of many "
            "partials about 1 %, 17 cents (Mehta & Oxenham, J. Acoust. Soc. Am. 147 (2020) 2314, "
            "abstract seen)",
            "seen second-hand",
        ),
        HearingThreshold(
            "attack",
            "attack time",
            "%",
            25.0,
            25.0,
            "a quarter of the rise time, for rises of 5-10 ms and longer (van Heuven & van den "
            "Broecke 1979); of instruments' tones only extreme envelopes were told apart (Hall & "
            "Beauchamp, Clarifying Spectral and Temporal Dimensions of Musical Instrument Timbre, "
            "abstract seen, without a figure); for the centre of the first 50 ms none is known, so "
            "nothing is called likely audible",
            "from memory",
            likely_at=float("inf"),
        ),
        HearingThreshold(
            "hum",
            "level of hum",
            "dB",
            1.0,
            1.0,
            "as for the level of tones, if the hum is heard at all (Jesteadt, Wier & Green 1977)",
            "seen second-hand",
        ),
        HearingThreshold(
            "noise",
            "level of hiss",
            "dB",
            0.41,
            0.41,
            "wide-band noise 30 dB or more above its own threshold, up to 3 dB for fainter noise "
            "(Miller, J. Acoust. Soc. Am. 19 (1947)), if the hiss is heard at all",
            "seen second-hand",
        ),
    )
}


def threshold_of(
    quantity: Quantity, *, overrides: Mapping[str, float] | None = None
) -> HearingThreshold | None:
    """Return a quantity's hearing threshold, None when none is known.

    Parameters
    ----------
    quantity
        What is compared.
    overrides
        ``hearing_thresholds`` of session.toml: by column name (``level_dbfs``) or by threshold
        name (``level``), a magnitude in the threshold's unit. The column name wins.

    Returns
    -------
    HearingThreshold or None
    """
    known = THRESHOLDS.get(quantity.threshold)
    for key in (quantity.column, quantity.threshold):
        if overrides and key and key in overrides:
            value = float(overrides[key])
            return HearingThreshold(
                known.name if known else quantity.column,
                known.label if known else quantity.label,
                known.unit if known else quantity.units[0],
                value,
                value,
                "session.toml",
                "set by the owner",
                known.likely_at if known and np.isfinite(known.likely_at) else 2.0,
            )
    return known


def threshold_named(
    name: str, *, column: str = "", overrides: Mapping[str, float] | None = None
) -> HearingThreshold:
    """Return the hearing threshold of a name, the owner's where ``overrides`` has one.

    For what is counted in thresholds without being a compared quantity, such as a third octave.

    Parameters
    ----------
    name
        Key of :data:`THRESHOLDS`.
    column
        Column whose override goes before that of the name, as in :func:`threshold_of`.
    overrides
        ``hearing_thresholds`` of session.toml.
    """
    known = THRESHOLDS[name]
    for key in (column, name):
        if overrides and key and key in overrides:
            value = float(overrides[key])
            return replace(
                known, below=value, above=value, source="session.toml", sure="set by the owner"
            )
    return known


def check_overrides(overrides: Mapping[str, float]) -> None:
    """Raise when an override names no threshold or gives no usable magnitude.

    Raises
    ------
    SessionError
        With the key, what was found and what is allowed.
    """
    names = set(THRESHOLDS) | {quantity.column for quantity in QUANTITIES}
    for key, value in overrides.items():
        if key not in names:
            raise SessionError(
                tr_later(
                    "there is no hearing threshold of this name; allowed are {names} or a column "
                    "such as level_dbfs",
                    names=tuple(sorted(THRESHOLDS)),
                ),
                key=f"hearing_thresholds.{key}",
            )
        if not np.isfinite(value) or value <= 0.0:
            raise SessionError(
                tr_later(
                    "a hearing threshold must be a number above 0, found {found}",
                    found=repr(value),
                ),
                key=f"hearing_thresholds.{key}",
            )


def band_on_scale(quantity: Quantity, threshold: HearingThreshold) -> tuple[float, float]:
    """Return the unheard band (low, high) of a quantity's difference on its analysis scale.

    For ratios ``ln(1 - below/100)`` and ``ln(1 + above/100)``. A fall of 100 % or more has no
    logarithm: the band is then open below.
    """
    if not quantity.ratio:
        return -threshold.below, threshold.above
    low = float(np.log1p(-threshold.below / 100.0)) if threshold.below < 100.0 else -float("inf")
    return low, float(np.log1p(threshold.above / 100.0))
