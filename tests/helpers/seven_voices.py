"""A guitar with seven voices from the string model, and what each voice truly has.

Truth is the model's closed form (partials of the modes, lines of the coils), never what is tested.
Two humbuckers with their splits, both in parallel, and a saddle piezo, in recordings of their own;
the hand varies from pluck to pluck.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tonecompare import strings as st
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS
from tonecompare.strings.instruments import humbucker, split_coil, standard_instrument
from tonecompare.strings.noise import coil_line_dbfs
from tonecompare.strings.player import Spread, plucks_in_turn, vary_plucks
from tonecompare.strings.truth import OutputTruth, RecordingTruth

#: |a − b| over the mean of the two coils of each pickup.
MISMATCH = {"bridge": 0.08, "neck": 0.03}
QUIET_S, SPACING_S = 2.0, 1.7
NOTES = ((6, 0), (5, 0), (4, 0), (3, 0))
_FIELD_DBFS = (-55.0, -80.0, -62.0)
#: A hand that keeps its place: what is tested is not the hand.
HAND = Spread(level_db=0.3, position_mm=0.5)

BRIDGE = humbucker(45.0, sensitivity=0.24, mismatch=MISMATCH["bridge"])
NECK = humbucker(158.0, sensitivity=0.16, mismatch=MISMATCH["neck"])
_PICKUPS: dict[str, st.Magnetic | st.Parallel] = {
    "neck": NECK,
    "neck-split": split_coil(NECK),
    "both": st.in_parallel(NECK, BRIDGE),
    "both-split": st.in_parallel(split_coil(NECK), split_coil(BRIDGE)),
    "bridge": BRIDGE,
    "bridge-split": split_coil(BRIDGE),
}
#: Strings that fall by 25 dB before the next pluck.
GUITAR = replace(
    standard_instrument(),
    strings=tuple(
        replace(one, damping=tuple(4.0 * part for part in one.damping))
        for one in standard_instrument().strings
    ),
)
PIEZO = st.Piezo(sensitivity=0.10)
VOICES = (*_PICKUPS, "piezo")


@dataclass(frozen=True)
class VoiceTruth:
    """What a voice truly has, by note: quantity values; and its hum."""

    by_note: dict[str, dict[str, float]]
    hum_dbfs: float


def write_guitar(folder: Path) -> dict[str, VoiceTruth]:
    """Write a file per voice and return the truth of each."""
    folder.mkdir(parents=True, exist_ok=True)
    truths = {}
    for place, name in enumerate(VOICES):
        rng = np.random.default_rng((71, place))
        plucks = plucks_in_turn(
            NOTES, start_s=QUIET_S, spacing_s=SPACING_S, repeats=3, damp_before_s=0.1
        )
        take = st.render_recording(
            GUITAR,
            st.VoiceSpec(name, (_channel(name),)),
            vary_plucks(plucks, rng=rng, spread=HAND),
            rng=rng,
            rate_hz=44100.0,
            length_s=QUIET_S + 12 * SPACING_S,
            noise=_noise(name),
        )
        take.write(folder / f"{name}.wav")
        truths[name] = _truth(take.truth)
    return truths


def _channel(name: str) -> st.Channel:
    if name == "piezo":
        return st.Channel("piezo", None, PIEZO, ratio=1.0)
    return st.Channel("magnetic", _PICKUPS[name])


def _noise(name: str) -> st.NoiseSpec:
    lines = (
        (-84.0, -90.0, -88.0)
        if name == "piezo"
        else coil_line_dbfs(_PICKUPS[name], _FIELD_DBFS, mains_hz=50.0)
    )
    return st.NoiseSpec(mains_hz=50.0, line_dbfs=tuple(lines), hiss_dbfs=-92.0)


def _truth(truth: RecordingTruth) -> VoiceTruth:
    notes: dict[str, list[dict[str, float]]] = {}
    for pluck in truth.plucks:
        notes.setdefault(pluck.note, []).append(_values(pluck.outputs[0]))
    return VoiceTruth(
        {
            note: {name: float(np.mean([one[name] for one in plucks])) for name in plucks[0]}
            for note, plucks in notes.items()
        },
        truth.channels[0].hum_dbfs,
    )


def _values(output: OutputTruth) -> dict[str, float]:
    """Level, octave bands, log brightness and log decay of one pluck."""
    power = 2.0 * output.partial_mean_square()
    hz = output.partial_hz.mean(axis=1)
    bands = np.array([(power * _passed(hz, *band.edges_hz)).sum() for band in BANDS])
    with np.errstate(divide="ignore"):
        levels = 10 * np.log10(bands)
        shapes = 10 * np.log10(bands / bands.sum())
    return {
        "level_dbfs": output.level_dbfs,
        "centroid_hz": float(np.log(output.centroid_hz())),
        "decay_s": float(np.log(output.decay_s())),
        **dict(zip(BAND_LEVELS, levels.tolist(), strict=True)),
        **dict(zip(BAND_SHAPES, shapes.tolist(), strict=True)),
    }


def _passed(hz: np.ndarray, low_hz: float, high_hz: float) -> np.ndarray:
    """Return the power a band passes: cos² over a quarter octave, half of it at the edge."""
    passed = np.ones(hz.size)
    for octaves in (np.log2(hz / low_hz), np.log2(high_hz / hz)):
        passed *= np.sin(np.pi / 4 * (1 + np.clip(octaves * 8, -1, 1))) ** 2
    return passed


def true_difference(
    truths: dict[str, VoiceTruth], against: str, sound: str, quantity: str
) -> float:
    """Return the mean over notes of the true difference, on the analysis scale (dB, logarithm)."""
    one, other = truths[against].by_note, truths[sound].by_note
    return float(np.mean([other[note][quantity] - one[note][quantity] for note in one]))
