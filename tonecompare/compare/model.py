"""The parts of what comparing returns. Frozen data, no file access."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tonecompare.arrays import FloatArray
from tonecompare.compare.cause_facts import CauseFacts
from tonecompare.measure.outputs.recorded_blend import RecordedBlend

VERDICTS = ("likely-audible", "measurable", "no-change", "undecided", "confounded")


@dataclass(frozen=True)
class Confound:
    """Something other than the work that may explain differences in one comparison.

    ``voice`` is "" when it concerns all voices, ``output`` when it concerns all outputs of them.
    ``kind`` is one of gain, pick-position, pick-strength, tuning, strings, load, processing, mains,
    sessions, drift. ``explains`` names the quantities it can explain. ``found`` is False when it
    was tested and not found. ``facts`` hold what else there is to say of it, ``several`` that the
    voice has further outputs in the comparison.
    """

    comparison: str
    voice: str
    kind: str
    found: bool
    estimate: float | None
    unit: str
    ci_low: float | None
    ci_high: float | None
    p_value: float | None
    explains: tuple[str, ...]
    facts: CauseFacts
    output: str = ""
    several: bool = False
    #: The before side's voice where two voices are compared, "" otherwise.
    against: str = ""

    def concerns(self, comparison: str, voice: str, output: str) -> bool:
        """Whether it speaks of this voice and output of this comparison."""
        return (
            self.comparison == comparison
            and self.voice in ("", voice)
            and self.output in ("", output)
        )


@dataclass(frozen=True)
class Response:
    """By how many dB the after sound differs from before over frequency, with its band."""

    comparison: str
    voice: str
    output: str
    frequency_hz: FloatArray
    difference_db: FloatArray
    ci_low_db: FloatArray
    ci_high_db: FloatArray
    n_notes: int


@dataclass(frozen=True)
class EqualiserBand:
    """One band of a minimum-phase correction: peak/shelf, centre, gain, Q."""

    kind: str
    frequency_hz: float
    gain_db: float
    q: float


@dataclass(frozen=True)
class Equaliser:
    """The few-band correction that turns before into after, and what is left after it."""

    comparison: str
    voice: str
    output: str
    bands: tuple[EqualiserBand, ...]
    overall_gain_db: float
    #: RMS over the band of the response before and after the correction, dB.
    rms_before_db: float
    rms_left_db: float
    #: The share of the change (1 - left/before, in dB RMS) the correction gives.
    share: float
    impulse_response: FloatArray
    rate_hz: float


@dataclass(frozen=True)
class Beside:
    """Attack or decay of one output beside the reference's, mean over the notes both have."""

    quantity: str
    output: str
    unit: str
    value: float
    reference: float
    #: Difference in hearing thresholds; positive = longer than the reference.
    thresholds: float
    n_notes: int


@dataclass(frozen=True)
class AcousticLikeness:
    """How near each blend comes to the reference.

    ``distance`` (2, ratios) is in hearing thresholds: as wired, then with one output inverted.
    ``difference_db`` (B,) is reference minus nearest blend per band, levels taken out.
    """

    stage: str
    voice: str
    reference: str
    n_notes: int
    ratio: FloatArray
    distance: FloatArray
    nearest_ratio: float
    nearest_polarity: int
    #: Ratios as good as the nearest, at its polarity.
    as_good: tuple[float, float]
    band_hz: FloatArray
    difference_db: FloatArray
    equaliser: Equaliser | None
    beside: tuple[Beside, ...]
    #: The hearing threshold of a third octave's level that ``distance`` counts in.
    threshold_db: float = 1.0

    @property
    def magnetic_distance(self) -> float:
        """Distance of the magnetic output alone."""
        return float(self.distance[0, 0])

    @property
    def piezo_distance(self) -> float:
        """Distance of the piezo output alone."""
        return float(self.distance[0, -1])

    @property
    def nearest_distance(self) -> float:
        """Distance of the nearest blend."""
        return float(self.distance.min())


@dataclass(frozen=True)
class RecordingOfBlend:
    """What a recording of the blend of a two-channel voice is made of.

    ``stage`` and ``voice`` name the two-channel recording, ``recording`` the voice that holds the
    blend, at the same stage.
    """

    stage: str
    voice: str
    recording: str
    blend: RecordedBlend


@dataclass(frozen=True)
class BenchSign:
    """One thing seen on one voice of one stage.

    ``kind`` is one of those below; ``where`` names a note, string or output. ``data`` is what else
    there is to say of it, by kind:

    - dead-spot: string or None, expected decay (s), plucks, other notes;
    - string-balance: string, plucks;
    - hands: why hum could not be compared, "" when it could;
    - coil-mismatch: hum of the whole pickup re one coil (dB), why there is no mismatch or "";
    - interference: "tones" and their frequencies in Hz, from low to high, or "bursts";
    - outputs: none;
    - piezo: the :class:`tonecompare.measure.outputs.results.PiezoFinding`.
    """

    stage: str
    voice: str
    output: str
    kind: str
    where: str
    value: float | None
    unit: str
    uncertainty: float | None
    data: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Note:
    """One thing that holds for a whole comparison.

    Attributes
    ----------
    kind
        A code of :mod:`tonecompare.compare.notes`.
    data
        Its numbers and names, as the comment beside the code says.

    Examples
    --------
    >>> Note("not-measured", ("rewound",)).data
    ('rewound',)
    """

    kind: str
    data: tuple[Any, ...] = ()
