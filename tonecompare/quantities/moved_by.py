"""Which columns a cause other than the work can move: the lists of the confounds."""

from __future__ import annotations

from collections.abc import Mapping

from tonecompare.quantities.compared import pluck_quantities
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.quantities.registry import ENTRIES, PARTIAL_LEVELS


def _moved_by(cause: str) -> tuple[str, ...]:
    return tuple(
        column
        for entry in ENTRIES
        if cause in entry.moved_by
        for n, column in enumerate(entry.columns, start=1)
        if n >= entry.moved_by[cause]
    )


#: Families of what a pluck's spectrum is made of: what another hand, place or pickup moves.
OF_THE_SPECTRUM = ("level", "shape", "spectrum", "bands", "partials")
#: Every decay time, of the whole note and of single partials.
DECAYS = tuple(q.column for q in pluck_quantities() if q.family == "decay")
#: What a gain moves, all by the same decibels.
BY_GAIN = _moved_by("gain")
#: What another cable or input moves.
BY_LOAD = _moved_by("load")
#: What another mains frequency or place moves.
BY_MAINS = _moved_by("mains")
#: What is measured otherwise where the noise is not known.
BY_UNKNOWN_NOISE = _moved_by("quiet")
#: What an older or another set of strings moves.
BY_STRINGS = _moved_by("strings")
#: The top of the spectrum, that dull strings lack.
TOP = tuple(column for column in BY_STRINGS if column not in (*DECAYS, "inharmonicity"))

_CUT_TOP = (
    "centroid_hz", "tilt_db_per_octave", "tristimulus_3", "attack_ms", *PARTIAL_LEVELS[7:],
    *BAND_SHAPES[5:], *BAND_LEVELS[5:],
)  # fmt: skip
_NOISE = ("hiss_dbfs", "noise_a_dbfs", "buzz_dbfs")
#: What each mark of a processed file may explain.
BY_MARK: Mapping[str, tuple[str, ...]] = {
    "lossy": (*_CUT_TOP, *_NOISE),
    "hard-cut": (*_CUT_TOP, *_NOISE),
    "low-rate": (*_CUT_TOP, *_NOISE),
    "faded": (*DECAYS, *_NOISE, "hum_dbfs"),
    "digital-silence": (*DECAYS, *_NOISE, "hum_dbfs"),
    "clipped": ("level_dbfs", *BAND_LEVELS[:5], "attack_ms", "odd_even_db", *_CUT_TOP),
}
#: What compression moves.
BY_COMPRESSION = (*DECAYS, "level_dbfs", *BAND_LEVELS, "attack_ms")


def by_pick_strength(*, moves_decay: bool) -> tuple[str, ...]:
    """Return what a harder or softer hand moves, with decay and attack where it moved far.

    Stiffness is read off partials that begin sharp: up to 14 % between soft and hard on real takes.
    """
    families = {*OF_THE_SPECTRUM} | ({"decay", "attack"} if moves_decay else set())
    return (
        *(q.column for q in pluck_quantities() if q.family in families),
        "inharmonicity",
        "signal_to_hum_db",
    )


def causes_of(column: str) -> tuple[str, ...]:
    """Return the causes with a fixed list of columns that can move this one, by name.

    Picking place, tuning, sessions and drift have none: what they move is worked out from the
    takes.
    """
    processed = {name for columns in BY_MARK.values() for name in columns} | {*BY_COMPRESSION}
    lists: Mapping[str, tuple[str, ...] | set[str]] = {
        "gain": BY_GAIN,
        "pick-strength": by_pick_strength(moves_decay=True),
        "strings": BY_STRINGS,
        "load": BY_LOAD,
        "mains": BY_MAINS,
        "processing": processed,
        "quiet": BY_UNKNOWN_NOISE,
    }
    return tuple(cause for cause, columns in lists.items() if column in columns)
