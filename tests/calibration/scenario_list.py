"""What is tried: what was done between the stages, and what an honest report has to say of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from scenario_oracle import LEVEL, TREBLE
from scenario_takes import PICKUPS, ROOM_DBFS, USUAL, Condition, near_string

from tonecompare import strings as st


@dataclass(frozen=True)
class Expected:
    """A row over the notes that has to claim a change with the sign of the truth.

    Any row of ``voice`` whose quantity matches one of ``patterns`` will do. ``oracle`` names the
    levels of a pluck (:mod:`scenario_oracle`) by which a test that knows every hand looks for
    it.
    """

    voice: str
    patterns: tuple[str, ...]
    oracle: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """As printed."""
        return f"{self.voice} {' or '.join(self.patterns)}"


@dataclass(frozen=True)
class Scenario:
    """One thing done, both stages of it.

    ``expected`` are the claims it has to bring, ``causes`` the kinds that have to be found beside
    the work (kind, voice; "" = any), ``wrong_causes`` those that would be false.
    """

    name: str
    before: Condition
    after: Condition
    expected: tuple[Expected, ...] = ()
    causes: tuple[tuple[str, str], ...] = ()
    wrong_causes: tuple[str, ...] = ("strings", "tuning", "processing")

    @property
    def voices(self) -> tuple[str, ...]:
        """Voices of both stages."""
        return tuple(self.before.pickups)


def _louder(pickup: st.Magnetic, db: float) -> st.Magnetic:
    coils = tuple(replace(c, sensitivity=c.sensitivity * 10 ** (db / 20)) for c in pickup.coils)
    return replace(pickup, coils=coils)


def _resonance_times(pickup: st.Magnetic, factor: float) -> st.Magnetic:
    """Move the resonance; below it nothing changes (f0 goes with 1/√L)."""
    circuit = pickup.circuit
    return replace(pickup, circuit=replace(circuit, inductance_h=circuit.inductance_h / factor**2))


def _bridge(pickup: st.Magnetic, hand: st.Spread) -> Condition:
    return replace(USUAL, pickups={**PICKUPS, "bridge": pickup}, hand=hand)


def _power_sum(*levels_dbfs: float) -> float:
    return 10.0 * math.log10(sum(10 ** (level / 10) for level in levels_dbfs))


def _level(voice: str) -> Expected:
    return Expected(voice, LEVEL, LEVEL)


def _treble(voice: str) -> Expected:
    patterns = ("resonance_hz", "band_[248]000_db", "shape_[248]000_db", "centroid_hz")
    return Expected(voice, patterns, TREBLE)


#: Hum lines of a second transformer that came into the room with the shielding.
_OTHER_HUM = (-66.0, -64.0, -80.0, -69.0, -82.0)
_SHIELDED = tuple(
    _power_sum(line - 8.0, other) for line, other in zip(ROOM_DBFS, _OTHER_HUM, strict=True)
)
_OTHER_PICKUPS: Mapping[str, st.Magnetic] = {
    "bridge": near_string(
        st.humbucker(45.0, sensitivity=0.62, circuit=st.Circuit(7.5, 14e3, 130e-12, 200e3))
    ),
    "neck": _louder(
        near_string(st.single_coil(150.0, circuit=st.Circuit(3.6, 7400.0, 130e-12))), 2.0
    ),
}
_BRIDGE, _NECK = near_string(st.humbucker(45.0)), near_string(st.single_coil(150.0))


def scenarios() -> tuple[Scenario, ...]:
    """Everything that is tried, in the order of the printed table."""
    bridge = _BRIDGE
    listed: list[Scenario] = []
    for words, hand in (("±1.5 mm", st.STEADY_HAND), ("±4 mm", st.LOOSE_HAND)):
        usual = replace(USUAL, hand=hand)
        listed += [
            Scenario(f"nothing done, hand {words}", usual, usual),
            Scenario(
                f"bridge +1 dB, hand {words}",
                usual,
                _bridge(_louder(bridge, 1.0), hand),
                (_level("bridge"),),
            ),
            Scenario(
                f"bridge +3.4 dB, interface -3 dB, hand {words}",
                usual,
                replace(_bridge(_louder(bridge, 3.4), hand), gain_db=-3.0),
                (_level("bridge"),),
                (("gain", ""),),
            ),
            Scenario(
                f"bridge resonance 25 % up, hand {words}",
                usual,
                _bridge(_resonance_times(bridge, 1.25), hand),
                (_treble("bridge"),),
            ),
            Scenario(
                f"bridge resonance 25 % down, hand {words}",
                usual,
                _bridge(_resonance_times(bridge, 0.75), hand),
                (_treble("bridge"),),
            ),
        ]
    split = _bridge(st.split_coil(bridge), st.LOOSE_HAND)
    middle, middle_split = (
        Condition(
            {"middle": st.in_parallel(pickup, _NECK), "neck": _NECK},
            dict.fromkeys(("middle", "neck"), ROOM_DBFS),
        )
        for pickup in (bridge, st.split_coil(bridge))
    )
    return (
        *listed,
        Scenario("bridge humbucker to split", USUAL, split, (_level("bridge"),)),
        Scenario(
            "bridge split, 3 of 10 notes touched at their end",
            replace(USUAL, touched=0.3),
            replace(split, touched=0.3),
            (_level("bridge"),),
        ),
        Scenario("two pickups in parallel, nothing done", middle, middle),
        Scenario("two pickups in parallel, one split", middle, middle_split, (_level("middle"),)),
        Scenario(
            "picked 3 dB harder",
            USUAL,
            replace(USUAL, harder_db=3.0),
            causes=tuple(("pick-strength", voice) for voice in PICKUPS),
        ),
        Scenario(
            "picked 8 mm away",
            USUAL,
            replace(USUAL, pick_mm=8.0),
            causes=tuple(("pick-position", voice) for voice in PICKUPS),
        ),
        Scenario(
            "hum 8 dB down, another hum came",
            USUAL,
            replace(USUAL, line_dbfs=dict.fromkeys(PICKUPS, _SHIELDED)),
            causes=(("mains", ""),),
        ),
        Scenario(
            "other pickups, the same strings",
            USUAL,
            replace(USUAL, pickups=_OTHER_PICKUPS),
            (_level("bridge"), _level("neck"), _treble("bridge")),
        ),
    )
