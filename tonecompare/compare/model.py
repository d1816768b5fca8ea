"""What comparing returns. Frozen data, no file access."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.arrays import FloatArray

VERDICTS = ("likely-audible", "measurable", "no-change", "undecided", "confounded")


@dataclass(frozen=True)
class Confound:
    """Something other than the work that may explain differences in one comparison.

    ``voice`` is "" when it concerns all voices, ``output`` when it concerns all outputs of them.
    ``kind`` is one of gain, pick-position, pick-strength, tuning, strings, load, processing, mains,
    sessions, drift. ``explains`` names the quantities it can explain. ``found`` is False when it
    was tested and not found.
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
    sentence: str
    output: str = ""

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
    #: ``rms_left_db`` in hearing thresholds of one partial's level; NaN when not worked out.
    left_thresholds: float = float("nan")


@dataclass(frozen=True)
class BenchSign:
    """One thing seen on one voice of one stage.

    ``kind`` is one of dead-spot, string-balance, hands, coil-mismatch, interference, outputs,
    sympathetic, piezo; ``where`` names a note, string or output.
    """

    stage: str
    voice: str
    output: str
    kind: str
    where: str
    value: float | None
    unit: str
    uncertainty: float | None
    sentence: str
