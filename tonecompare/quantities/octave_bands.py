"""The octave bands of IEC 61260-1: nominal and exact mid-bands, edges and trade words."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.language import tr


@dataclass(frozen=True)
class OctaveBand:
    """One octave band of the base-ten system of IEC 61260-1.

    The exact mid-band frequency is ``1000 · 10^(3 n / 10)`` Hz, the edges lie at
    ``mid · 10^(±3/20)``; ``nominal_hz`` is what the band is called.
    """

    nominal_hz: int
    #: What people who make and play guitars call it, in English.
    trade_word: str
    #: Place from the 1 kHz band.
    n: int

    @property
    def mid_hz(self) -> float:
        """Exact mid-band frequency."""
        return float(1000.0 * 10.0 ** (0.3 * self.n))

    @property
    def edges_hz(self) -> tuple[float, float]:
        """Lower and upper band-edge frequency."""
        return float(self.mid_hz * 10.0**-0.15), float(self.mid_hz * 10.0**0.15)

    @property
    def word(self) -> str:
        """What people who make and play guitars call it."""
        return tr(self.trade_word)

    @property
    def frequency(self) -> str:
        """Nominal frequency as it is written: "500 Hz", "4 kHz"."""
        hz = self.nominal_hz
        return f"{hz // 1000} kHz" if hz >= 1000 else f"{hz} Hz"

    @property
    def words(self) -> str:
        """Trade word and frequency: "presence (4 kHz)"."""
        return f"{self.word} ({self.frequency})"


#: The bands of a guitar, lowest first.
BANDS = (
    OctaveBand(63, "deep bass", -4),
    OctaveBand(125, "bass", -3),
    OctaveBand(250, "low mids", -2),
    OctaveBand(500, "mids", -1),
    OctaveBand(1000, "mids", 0),
    OctaveBand(2000, "upper mids", 1),
    OctaveBand(4000, "presence", 2),
    OctaveBand(8000, "treble", 3),
)
#: Columns of the bands, absolute and against all bands together.
BAND_LEVELS = tuple(f"band_{band.nominal_hz:04d}_db" for band in BANDS)
BAND_SHAPES = tuple(f"shape_{band.nominal_hz:04d}_db" for band in BANDS)
#: Columns of how long each band of a chord rings.
BAND_DECAYS = tuple(f"decay_{band.nominal_hz:04d}_s" for band in BANDS)
