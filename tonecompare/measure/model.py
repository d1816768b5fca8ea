"""What measuring returns: the noise model, curves, and the tables of a session. Frozen data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tonecompare.arrays import FloatArray
from tonecompare.measure.resonances import SharedRelease
from tonecompare.measure.table import MeasurementTable
from tonecompare.session.model import LeftOut

if TYPE_CHECKING:
    import pandas as pd

    from tonecompare.measure.outputs.results import BlendResult


@dataclass(frozen=True, eq=False)
class Noise:
    """What one channel carries when the strings are damped: a floor and mains lines.

    Compared by identity, so that what follows from it can be kept.

    ``density`` is the one-sided power spectral density of the floor *without* the mains lines,
    in (sample value)²/Hz, on the uniform grid ``frequency_hz`` from 0 to half the rate.
    ``line_power`` holds the mean square of each mains line at ``line_hz`` = k·mains_hz,
    k = 1, 2, … (0 where no line stands above the floor).
    """

    rate_hz: float
    frequency_hz: FloatArray
    density: FloatArray
    mains_hz: float | None
    line_hz: FloatArray
    line_power: FloatArray
    #: Seconds of quiet this was estimated from.
    length_s: float


@dataclass(frozen=True)
class PluckCurves:
    """Curves of one pluck on one channel, for charts and for the response of a change.

    ``band_hz`` (B,) is the common 1/24-octave grid, ``band_dbfs`` (B,) the averaged power of
    0.05–1.05 s after the onset in each band with the quiet subtracted (NaN where it does not
    stand above the quiet); ``decay_time_s`` (T,) and ``decay_db`` (T,) the backward-integrated
    energy, 0 dB at the onset; ``partial_dbfs`` (24,) the partials (NaN where unmeasured).
    """

    band_hz: FloatArray
    band_dbfs: FloatArray
    decay_time_s: FloatArray
    decay_db: FloatArray
    partial_dbfs: FloatArray


@dataclass(frozen=True)
class PhraseCurve:
    """One passage on the time axis of the first passage of its music.

    Attributes
    ----------
    time_s
        Shape (T,): seconds from the first onset of the first passage.
    level_dbfs
        Shape (T,): level of all octave bands together, 80 ms windows; NaN where other notes sound
        or nothing stands over the quiet.
    centroid_hz
        Shape (T,): spectral centroid, where there is a level.
    events_s
        When the notes and chords of the first passage begin.
    own_s
        Shape (T,): where in this passage that is, seconds from its own first onset; NaN where the
        path leaves a frame of the first out.
    offset_s
        Where in this passage the first one's beginning lies, seconds from its own first onset.
    """

    time_s: FloatArray
    level_dbfs: FloatArray
    centroid_hz: FloatArray
    events_s: tuple[float, ...]
    own_s: FloatArray
    offset_s: float


@dataclass(frozen=True)
class QuietCurves:
    """Spectrum of a quiet stretch: ``level_dbfs`` (F,) in ``bandwidth_hz`` at ``frequency_hz``."""

    frequency_hz: FloatArray
    level_dbfs: FloatArray
    bandwidth_hz: float


@dataclass(frozen=True)
class FileRecord:
    """An input file as it was read."""

    file: str
    sha256: str
    rate_hz: float
    channels: int
    subtype: str
    length_s: float
    stage: str
    voice: str
    n_plucks: int
    #: What reading the file found, in sentences.
    problems: tuple[str, ...] = ()
    #: Where the hum's lines stand and the mains frequency asked for in vain, a quiet each (Hz).
    mains_asked: tuple[tuple[str | float, ...], ...] = ()


def _no_rows() -> pd.DataFrame:
    import pandas as pd  # measuring a recording needs no data frames

    return pd.DataFrame()


@dataclass(frozen=True)
class Measurements:
    """All measurements of a session.

    ``table`` holds every number with its unit, window, method and reason; the frames are made from
    it once, for comparing and reporting, which may narrow them. ``plucks`` has the columns of
    ``measurements.csv`` (a row per pluck and channel), ``quiet`` those of ``quiet.csv``, ``blend``
    those of ``blend.csv``; the column ``flags`` holds tuples of
    :class:`tonecompare.measure.flags.Flag`. Standard uncertainties stand in extra columns
    ``<column>_se``. Curves are keyed (file, channel, pluck number) and (file, channel, quiet
    number), channel and numbers from 1 as in the tables.
    """

    plucks: pd.DataFrame
    quiet: pd.DataFrame
    blend: pd.DataFrame
    curves: Mapping[tuple[str, int, int], PluckCurves] = field(default_factory=dict)
    quiet_curves: Mapping[tuple[str, int, int], QuietCurves] = field(default_factory=dict)
    files: tuple[FileRecord, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    #: A row per stage, voice and output: pickup position, resonance.
    voices: pd.DataFrame = field(default_factory=_no_rows)
    #: Two-channel voices: everything measured of both outputs together, by (stage, voice).
    blends: Mapping[tuple[str, str], BlendResult] = field(default_factory=dict)
    #: Power per third octave by (stage, voice, output) and note, mean over the plucks.
    bands: Mapping[tuple[str, str, str], Mapping[str, FloatArray]] = field(default_factory=dict)
    table: MeasurementTable = field(default_factory=MeasurementTable)
    #: How each passage runs in the time of the first of its music, keyed as ``curves``.
    phrases: Mapping[tuple[str, int, int], PhraseCurve] = field(default_factory=dict)
    #: What the magnetic outputs of each guitar together tell of their resonances.
    releases: tuple[SharedRelease, ...] = ()
