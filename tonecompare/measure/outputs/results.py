"""What measuring two outputs of the same pluck takes and returns. Frozen data, no file access.

Words: the *magnetic* and the *piezo* output are two channels of one recording. A *ratio* of 0 is
all magnetic, 1 all piezo: blend = (1 - ratio) * magnetic + polarity * ratio * piezo, with the
outputs as they were recorded. Polarity 1 means that the first motion after a pluck points the
same way in both outputs, -1 that one is inverted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.table import MeasuredSubject

ComplexArray = NDArray[np.complex128]


class ReadWhenAsked:
    """Data whose values may be given as a :class:`ReadLater`; the last two made are kept."""

    def __getattribute__(self, name: str) -> Any:
        value = super().__getattribute__(name)
        return _made(value) if isinstance(value, ReadLater) else value


@dataclass(frozen=True)
class ReadLater:
    """Samples that are read when they are asked for, so that not all plucks are in memory."""

    make: Callable[[], FloatArray]

    @classmethod
    def of(cls, make: Callable[[], FloatArray]) -> FloatArray:
        """Return what stands for the samples that ``make`` reads."""
        return cast("FloatArray", cls(make))


@lru_cache(maxsize=2)
def _made(later: ReadLater) -> FloatArray:
    """Return what is asked for; both outputs of one pluck stay for what is asked next."""
    made = later.make()
    made.flags.writeable = False
    return made


def forget_last() -> None:
    """Let go of the samples last made, and of the file they came from."""
    _made.cache_clear()


@dataclass(frozen=True)
class BlendPair(ReadWhenAsked):
    """One pluck on both outputs.

    ``magnetic`` and ``piezo`` (n,) cover the same samples, from about 20 ms before the onset to
    the end of what rang; ``onset_index`` is the first sample of the string's motion in the output
    that starts first. ``string`` is given for open strings only (1 = thinnest).
    """

    note: str
    string: int | None
    f0_hz: float
    magnetic: FloatArray
    piezo: FloatArray
    onset_index: int
    rate_hz: float
    noise_magnetic: Noise | None = None
    noise_piezo: Noise | None = None
    #: File and pluck number, for messages.
    label: str = ""

    @property
    def string_name(self) -> str:
        """Name in tables by string: "string 3" for an open string, else the note."""
        return f"string {self.string}" if self.string is not None else self.note


@dataclass(frozen=True)
class QuietPair(ReadWhenAsked):
    """One stretch with the strings damped on both outputs, (n,) each."""

    magnetic: FloatArray
    piezo: FloatArray
    rate_hz: float


@dataclass(frozen=True)
class PartialRatios:
    """Magnetic over piezo at the partials of one note, all its plucks together.

    ``name`` is "string 3" for an open string, else the note.

    ``ratio`` (k,) is complex and is near zero where the pickup sits on a node; ``sigma`` (k,) is
    the standard deviation of its real and of its imaginary part from the noise alone.
    ``turn_rad`` (k,) is the error of its phase from taking out the drift between the polarisations;
    ``open_string`` says that the whole string sounds, so that d/L < 1/2 for any pickup.
    """

    name: str
    open_string: bool
    f0_hz: float
    number: FloatArray
    frequency_hz: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    turn_rad: FloatArray


@dataclass(frozen=True)
class DelayFit:
    """Electronic delay and polarity between the outputs, with what was fitted beside them.

    Attributes
    ----------
    delay_s, delay_se_s
        What the piezo output comes later than the magnetic one *beyond* the string's own travel
        time, the pickup's low-pass and the piezo's high-pass, and its standard uncertainty.
        None when not determinable.
    polarity
        1, -1 or None when not determinable.
    reason
        Why delay or polarity is None.
    """

    delay_s: float | None
    delay_se_s: float | None
    polarity: int | None
    n_notes: int
    #: Piezo over magnetic sensitivity by string ("string 3") or note, dB: gains of the fit, so
    #: that comb, pick position and filters are out of it.
    gain_db: Mapping[str, float] = field(default_factory=dict)
    #: Level of the magnetic output at partials that have a node under the pickup, against what it
    #: would carry without the comb, dB; None from fewer than three. Well below -20 dB unless
    #: something leaks from output to output.
    node_db: float | None = None
    #: Delay and its standard error in seconds by string or note, all else as fitted to all notes.
    by_note_s: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True)
class BandCross:
    """Powers of both outputs and their cross power in bands, quiet subtracted.

    ``magnetic``, ``piezo`` (B,) are mean squares in (sample value)², ``cross`` (B,) the real part
    of the cross power, so that a sum of both has the power magnetic + piezo + 2 cross, and
    ``cross_aligned`` (B,) the same after the electronic delay has been taken out (NaN when it is
    not known). ``coherence`` (B,) is the magnitude-squared coherence of the bins in a band.
    """

    band_hz: FloatArray
    magnetic: FloatArray
    piezo: FloatArray
    cross: FloatArray
    cross_aligned: FloatArray
    coherence: FloatArray


@dataclass(frozen=True)
class Notch:
    """A stretch of frequency where the sum falls below the power sum, and why."""

    frequency_hz: float
    depth_db: float
    ratio: float
    polarity: int
    #: "delay", "polarity", "delay and polarity" or "string and filters".
    cause: str
    #: The electronic delay, None when it is not known.
    delay_s: float | None
    #: What stands there instead of ``depth_db`` with the delay taken out, and one output inverted.
    without_delay_db: float
    inverted_db: float


@dataclass(frozen=True)
class BlendMap:
    """What blending does: dB of the sum over the power sum, by polarity, ratio and band.

    ``interaction_db`` has the shape (2, ratios, bands): first the outputs as wired, then with one
    inverted.
    """

    ratio: FloatArray
    band_hz: FloatArray
    interaction_db: FloatArray
    #: Ratio at which both outputs contribute the same power.
    equal_ratio: float


@dataclass(frozen=True)
class BlendAdvice:
    """Which polarity and which ratios, and why; ``fuller_by_db`` None: it cannot be judged."""

    #: 1 as wired, -1 inverted, None when it makes no difference.
    fuller_polarity: int | None
    #: How much fuller, dB over the bands, at equal contribution.
    fuller_by_db: float | None
    #: Ratio ranges in which no band thins by more than ``thin_limit_db`` (ends included).
    ratio_ranges: tuple[tuple[float, float], ...]
    thin_limit_db: float
    notches: tuple[Notch, ...]
    #: Band (Hz) and ratio that thin most, None when the blend cannot be judged.
    worst: tuple[float, float] | None


@dataclass(frozen=True)
class OutputQuality:
    """One output at the bench. NaN and empty where it could not be measured."""

    output: str
    hum_dbfs: float
    bandwidth_hz: float
    #: Peak of the first 20 ms over the RMS of 100–500 ms, dB, by band name.
    transient_db: Mapping[str, float]
    #: Share of plucks with flattened peaks below full scale.
    clipped_share: float
    #: Knocks and rubs per second of quiet, and the strongest, dBFS peak.
    handling_per_s: float
    handling_peak_dbfs: float


@dataclass(frozen=True)
class PiezoFinding:
    """One thing to look at on the bench.

    ``kind`` is one of string-balance, clipping, handling, crosstalk, hum; ``where`` names an output
    or a string. ``data`` of handling is its loudest peak in dBFS.
    """

    kind: str
    where: str
    value: float
    unit: str
    #: Standard uncertainty of the value, None where it is not known.
    uncertainty: float | None = None
    data: tuple[float, ...] = ()


@dataclass(frozen=True)
class BlendResult:
    """All that one two-channel recording tells of its two outputs.

    ``rows`` hold the columns of ``blend.csv``, first "all", then each note; stage and voice
    are empty.
    """

    rows: tuple[MeasuredSubject, ...]
    delay: DelayFit
    bands: BandCross
    by_note: Mapping[str, BandCross]
    map: BlendMap
    advice: BlendAdvice
    magnetic: OutputQuality
    piezo: OutputQuality
    findings: tuple[PiezoFinding, ...] = ()
