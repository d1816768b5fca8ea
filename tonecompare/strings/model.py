"""What is rendered: strings, plucks, coils, circuits, piezo, channels and noise. Frozen data.

Lengths along the string are millimetres from the bridge. Amplitudes are sample values re full
scale 1.0.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from tonecompare.errors import InputError


@dataclass(frozen=True)
class StringSpec:
    """One open string.

    Parameters
    ----------
    number
        1 = thinnest.
    open_hz
        Frequency of the ideal (flexible) open string; h1 lies a factor sqrt(1 + B) above.
    mass_kg_per_m
        Mass per length; tension follows as mu (2 L f)^2 (Mersenne).
    inharmonicity
        B of the open string: f_n = n f sqrt(1 + B n^2) (Fletcher 1964). Scales with 1/L^2.
    damping
        (b0, b1, b2): sigma(f) = b0 + b1 (f/kHz) + b2 (f/kHz)^2 per second, first polarisation.
    magnetic_gain
        How strongly a coil senses this string (flux goes with the steel cross-section).
    split
        Relative frequency offset of the second polarisation.
    damping_ratio
        Its decay rate over that of the first.
    stretch
        E·A/T: stiffness against stretching over tension; 0 = the pitch does not glide
        (:mod:`tonecompare.strings.attack.pitch_glide`). Some 140 (thin plain) to 450 (thick).
    """

    number: int
    open_hz: float
    mass_kg_per_m: float
    inharmonicity: float = 5e-5
    damping: tuple[float, float, float] = (0.6, 0.9, 0.35)
    magnetic_gain: float = 1.0
    piezo_gain: float = 1.0
    split: float = 4e-4
    damping_ratio: float = 0.65
    stretch: float = 0.0


@dataclass(frozen=True)
class InstrumentSpec:
    """One invented guitar: scale length and strings (any order, found by number)."""

    name: str
    strings: tuple[StringSpec, ...]
    scale_length_mm: float = 648.0

    def string(self, number: int) -> StringSpec:
        """Return the string of this number."""
        for string in self.strings:
            if string.number == number:
                return string
        known = ", ".join(str(string.number) for string in self.strings)
        raise InputError(f"string={number}: instrument {self.name!r} has strings {known}.")


@dataclass(frozen=True)
class Slip:
    """The pick's scrape over the string before it lets go.

    ``level_db`` is the RMS of the scrape's velocity at its loudest, re the velocity of the wave
    that the release starts; it grows over ``length_ms``.
    """

    length_ms: float = 6.0
    level_db: float = -30.0


@dataclass(frozen=True)
class PluckSpec:
    """One pluck, released at ``time_s``.

    Parameters
    ----------
    time_s
        Seconds from the start of the recording to the release (the string starts to move there).
    string, fret
        Which note.
    position_mm
        Pick distance from the bridge.
    strength_db
        0 dB pulls the string aside by 1 mm at the pick.
    angle_deg
        0 = moves towards and away from the body (first polarisation), 90 = along it.
    release_ms
        Time over which the pick lets go (raised-cosine weight): the softer, the longer.
    width_mm
        Length of string the pick rounds off (raised cosine).
    detune_cents, decay_factor
        This pluck's own pitch offset and its factor on every decay time.
    damp_s
        Seconds after the release at which a hand damps the string; None = rings on.
    damp_per_s
        Decay rate the hand adds.
    slip
        What the pick's scrape adds before the release; None = it lets go silently.
    """

    time_s: float
    string: int
    fret: int = 0
    position_mm: float = 120.0
    strength_db: float = 0.0
    angle_deg: float = 30.0
    release_ms: float = 0.15
    width_mm: float = 4.0
    detune_cents: float = 0.0
    decay_factor: float = 1.0
    damp_s: float | None = None
    damp_per_s: float = 90.0
    slip: Slip | None = None


@dataclass(frozen=True)
class DistanceLaw:
    """Flux of a string at the distance d − y from a coil's pole goes with (d − y)^(−exponent).

    ``distance_mm`` is d at rest, from the string to where the pole seems to be (below its face).
    See :mod:`tonecompare.strings.pickups.distance_law`.
    """

    distance_mm: float = 4.0
    exponent: float = 2.0


@dataclass(frozen=True)
class Coil:
    """One coil: where it sits, how much string it sees and how strongly.

    ``sensitivity`` is sample value per m/s of string velocity before the circuit; ``hum`` is the
    signed field sensitivity (the two coils of a humbucker have opposite signs). ``law`` is how
    flux goes with distance; None = in proportion to the string's displacement.
    """

    distance_mm: float
    aperture_mm: float = 12.0
    sensitivity: float = 0.6
    hum: float = 1.0
    law: DistanceLaw | None = None


@dataclass(frozen=True)
class Circuit:
    """Coil, pots, cable and input as the loaded RLC network of check-values section 6."""

    inductance_h: float = 2.4
    resistance_ohm: float = 5800.0
    capacitance_f: float = 110e-12
    load_ohm: float = 111e3
    cable_f: float = 360e-12


@dataclass(frozen=True)
class Magnetic:
    """Coils in series (their voltages add) into one circuit. One coil = single or split."""

    coils: tuple[Coil, ...]
    circuit: Circuit = field(default_factory=Circuit)
    #: How strongly the second polarisation (along the body) is sensed.
    second_polarisation: float = 0.25


@dataclass(frozen=True)
class Parallel:
    """Pickups in parallel, as in a middle position: each loads the others.

    Every pickup keeps its coil's L, R and C; cable and load are those of the first.
    """

    pickups: tuple[Magnetic, ...]


@dataclass(frozen=True)
class Piezo:
    """Saddle piezo and preamp: high-pass 1/(2 pi R C), gain, Butterworth low-pass, clipping.

    ``sensitivity`` is sample value per newton of bridge force; ``clip`` is the sample value the
    preamp cannot exceed (None = never clips).
    """

    sensitivity: float = 0.08
    capacitance_f: float = 1e-9
    input_ohm: float = 10e6
    gain_db: float = 0.0
    bandwidth_hz: float = 14e3
    clip: float | None = None
    second_polarisation: float = 0.4


@dataclass(frozen=True)
class Channel:
    """What one channel of the file carries.

    blend = ``ratio``·piezo + (1 − ``ratio``)·magnetic; a magnetic channel has ratio 0, a piezo
    channel 1. ``delay_us`` (positive = later) and ``polarity`` are those of the piezo path.
    """

    output: str
    magnetic: Magnetic | Parallel | None = None
    piezo: Piezo | None = None
    ratio: float = 0.0
    delay_us: float = 0.0
    polarity: int = 1
    gain_db: float = 0.0

    def __post_init__(self) -> None:
        if self.output not in ("magnetic", "piezo", "blend"):
            raise InputError(f"output={self.output!r}: allowed are magnetic, piezo, blend.")
        if not 0.0 <= self.ratio <= 1.0:
            raise InputError(f"ratio={self.ratio}: must lie in 0…1 (1 = all piezo).")
        if self.polarity not in (1, -1):
            raise InputError(f"polarity={self.polarity}: must be 1 or -1.")
        if (self.ratio < 1.0 and self.magnetic is None) or (self.ratio > 0.0 and not self.piezo):
            raise InputError(
                f"output={self.output!r} with ratio={self.ratio} needs a magnetic pickup below"
                " ratio 1 and a piezo above ratio 0."
            )


@dataclass(frozen=True)
class VoiceSpec:
    """One voice: a channel for a mono file, two for a stereo jack."""

    name: str
    channels: tuple[Channel, ...]


@dataclass(frozen=True)
class Burst:
    """Interference: a burst of noise of this RMS between two times."""

    start_s: float
    length_s: float
    dbfs: float


@dataclass(frozen=True)
class NoiseSpec:
    """What a channel carries without a string moving.

    ``line_dbfs`` is the RMS (AES17) of mains line k·mains_hz, k = 1, 2, …; ``-inf`` leaves a line
    out; lines above 1 kHz are buzz. ``hiss_dbfs`` is the RMS in 20 Hz–20 kHz of Gaussian noise,
    white (or tilted by ``hiss_tilt_db_per_octave`` about 1 kHz) up to half the rate. ``whistles``
    are (Hz, dBFS) of steady tones. ``pink_dbfs`` is the RMS in 20 Hz–20 kHz of Gaussian noise
    whose density goes with 1/f. ``line_wander_db`` is the standard deviation of every line's slow
    drift about its level, ``mains_wander_hz`` that of the mains about its frequency.
    """

    mains_hz: float = 50.0
    line_dbfs: tuple[float, ...] = ()
    hiss_dbfs: float = float("-inf")
    hiss_tilt_db_per_octave: float = 0.0
    bursts: tuple[Burst, ...] = ()
    whistles: tuple[tuple[float, float], ...] = ()
    pink_dbfs: float = float("-inf")
    line_wander_db: float = 0.0
    mains_wander_hz: float = 0.0


QUIET_CHANNEL = NoiseSpec()
