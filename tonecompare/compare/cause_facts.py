"""What each cause other than the work was found by: its numbers and names.

What :class:`tonecompare.compare.model.Confound` has itself (its estimate and interval, voice,
columns explained) is not held again.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Stated:
    """What session.toml gives differently for the two stages."""

    #: A field of :class:`tonecompare.session.model.Conditions`.
    condition: str
    before: str | float
    after: str | float


@dataclass(frozen=True)
class GainFacts:
    """What the gain of one input rests on.

    ``voices`` is the number of voices whose hiss tells of it. ``stated_db`` is what session.toml
    gives, ``against_stated`` whether the takes contradict it. Not ``sure``: it may have moved and
    may not. ``controlled``: a control's hiss was taken out before.
    """

    voices: int = 0
    stated_db: float | None = None
    against_stated: bool = False
    sure: bool = True
    controlled: bool = False


@dataclass(frozen=True)
class PlaceFacts:
    """How the pick moved.

    ``scatter`` (share of the string) is None when all notes moved one way. ``length_mm`` is that
    of the open strings, None when not known.
    """

    scatter: float | None
    length_mm: float | None


@dataclass(frozen=True)
class UntoldPlaceFacts:
    """The place of this voice is not known, and the pick moved for ``moved``, other voices."""

    moved: tuple[str, ...]


@dataclass(frozen=True)
class StrengthFacts:
    """How loudness (the level's, or the peak's where ``at_peak``) and tilt moved together.

    ``glide_cents`` has the mean glide of the notes before and after, None where it was not
    measured; ``by_glide`` says whether it tells the hand, and the estimate is then the strength's.
    Otherwise the estimate is the loudness, and hand and pickup cannot be told apart.
    ``every_voice``: it was found only by all voices having moved alike. ``alone``: neither found
    nor ruled out, since glides do not tell and no other voice was played.
    """

    louder_db: float
    tilt_db_per_octave: float
    at_peak: bool = False
    glide_cents: tuple[float, float] | None = None
    by_glide: bool = False
    every_voice: bool = False
    alone: bool = False


@dataclass(frozen=True)
class TuningFacts:
    """The note that moved most; "" when none moved by more than chance."""

    worst_note: str = ""
    worst_cents: float = 0.0


@dataclass(frozen=True)
class StringsFacts:
    """What speaks of other strings; None where it does not.

    ``ring_percent`` is by how much longer high partials ring against low ones.
    """

    stated: Stated | None
    ring_percent: float | None
    inharmonicity_percent: float | None


@dataclass(frozen=True)
class LoadFacts:
    """What speaks of another cable or input.

    ``moved_db`` has every magnetic voice with its change in the band of ``band_hz``; empty when
    they did not all move alike. ``stated_same``: session.toml gives one cable and input for both,
    so that pots, tone capacitor or wiring are left.
    """

    stated: Stated | None
    band_hz: tuple[float, float] | None = None
    moved_db: tuple[tuple[str, float], ...] = ()
    stated_same: bool = False


@dataclass(frozen=True)
class ProcessingFacts:
    """Marks in the files of one stage only, each with that stage; the change of every decay."""

    marks: tuple[tuple[str, str], ...]
    decay_percent: float | None


@dataclass(frozen=True)
class MainsFacts:
    """Two mains frequencies, or the line that moved most against the mean of the lines.

    ``total_db`` is by how much hum moved besides, over the voices; None where it did not.
    """

    frequencies_hz: tuple[float, float] | None
    moved_most_db: float | None
    total_db: float | None = None


@dataclass(frozen=True)
class QuietFacts:
    """The stage that has no quiet."""

    lacking: str


@dataclass(frozen=True)
class MovedFacts:
    """How one column of a voice moved until its repeat at the end, with the ends of its interval.

    All in ``unit``.
    """

    stage: str
    voice: str
    output: str
    column: str
    moved: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True)
class DriftFacts:
    """What drifted in the stages of a comparison (all that was looked at, where nothing did).

    ``repeats`` stages have a voice that was recorded again.
    """

    moved: tuple[MovedFacts, ...]
    repeats: int


@dataclass(frozen=True)
class HiddenByDrift:
    """The claims of a voice are no larger than what a stage drifted."""


CauseFacts = (
    GainFacts
    | PlaceFacts
    | UntoldPlaceFacts
    | StrengthFacts
    | TuningFacts
    | StringsFacts
    | LoadFacts
    | ProcessingFacts
    | MainsFacts
    | QuietFacts
    | DriftFacts
    | HiddenByDrift
)
