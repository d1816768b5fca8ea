"""What stands side by side, as frozen data: sounds, pairs of them, the voices of a stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES

#: What is set side by side, in the order of the tables.
SHOWN = (
    "level_dbfs", *BAND_SHAPES, "centroid_hz", "resonance_hz", "hum_dbfs", "signal_to_hum_db",
    "decay_s", *BAND_LEVELS,
)  # fmt: skip
#: Hearing thresholds from which on an upper end tells nothing.
FARTHEST_TOLD = 20.0
#: What a distance is taken over.
HEARD_AT_ONCE = ("level_dbfs", *BAND_SHAPES)


@dataclass(frozen=True, order=True)
class VoiceSound:
    """One output of one voice."""

    voice: str
    output: str


@dataclass(frozen=True)
class SoundDifference:
    """By how much one sound differs from another in one quantity.

    Attributes
    ----------
    difference, ci_low, ci_high
        In ``unit``, None where not known.
    n_notes
        Notes both sounds have, 0 for what is no matter of notes (hum, resonance).
    threshold_low, threshold_high
        Ends of the unheard band in ``unit``, None where no hearing threshold is known.
    weak
        Whether it is a band that neither sound has much of: its difference is not spoken of.
    """

    quantity: str
    unit: str
    difference: float | None
    ci_low: float | None
    ci_high: float | None
    n_notes: int
    threshold_low: float | None
    threshold_high: float | None
    weak: bool = False

    @property
    def sure(self) -> bool:
        """Whether the interval leaves out zero."""
        ends = self.ends
        return ends is not None and (ends[0] > 0.0 or ends[1] < 0.0)

    @property
    def ends(self) -> tuple[float, float] | None:
        """The interval, None where it is not known."""
        if self.ci_low is None or self.ci_high is None:
            return None
        return self.ci_low, self.ci_high

    def in_thresholds(self, value: float) -> float | None:
        """Count a difference in the hearing threshold of the side it points to, signed."""
        threshold = self.threshold_low if value < 0.0 else self.threshold_high
        return value / abs(threshold) if threshold else None


@dataclass(frozen=True)
class SoundDistance:
    """How far two sounds lie apart, in hearing thresholds, with the ends of its interval.

    ``value`` is the largest multiple over level and bands, ``quantity`` where it is reached. The
    interval covers all of them together: ``ci_low`` is what some quantity surely reaches,
    ``ci_high`` what none exceeds; infinite where a quantity's interval is not known.
    """

    value: float
    ci_low: float
    ci_high: float
    quantity: str

    @property
    def bounded(self) -> bool:
        """Whether the takes bound it at all: far out, a figure would tell nobody anything."""
        return self.ci_high <= FARTHEST_TOLD


@dataclass(frozen=True)
class VoicePair:
    """One sound against another: differences are ``sound`` minus ``against``."""

    against: VoiceSound
    sound: VoiceSound
    cells: Mapping[str, SoundDifference]
    distance: SoundDistance | None
    #: Whether level, every band and decay surely differ by less than a hearing threshold.
    alike: bool


@dataclass(frozen=True)
class StageVoices:
    """The sounds of one stage side by side.

    Attributes
    ----------
    sounds
        In the order of the selector, from the bridge; what is no magnetic pickup last.
    loudest
        Has the highest level over the notes all share.
    values
        What each sound has of its own, in the quantities' own units, by sound and quantity.
    against_loudest
        Every sound but the loudest; intervals hold for all of them together.
    splits
        Each split or tapped voice against its whole.
    neighbours
        Neighbouring positions, whole ones and split ones apart.
    outputs
        Magnetic, piezo and blend.
    nearest
        Pairs that are alike, or else the one pair with the smallest distance.
    farthest
        The pair whose distance is surely the largest; None where none is known.
    piezo_from
        The voice whose take the piezo stands for, where several takes carry one; "" otherwise.
    """

    stage: str
    sounds: tuple[VoiceSound, ...]
    loudest: VoiceSound
    values: Mapping[tuple[VoiceSound, str], float]
    against_loudest: tuple[VoicePair, ...]
    splits: tuple[VoicePair, ...] = ()
    neighbours: tuple[VoicePair, ...] = ()
    outputs: tuple[VoicePair, ...] = ()
    nearest: tuple[VoicePair, ...] = ()
    farthest: VoicePair | None = None
    piezo_from: str = ""
    #: Mean level over the notes all share, by sound, dBFS.
    levels: Mapping[VoiceSound, float] = field(default_factory=dict)
