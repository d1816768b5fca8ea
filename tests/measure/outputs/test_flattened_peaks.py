"""Peaks a preamp flattens, and clean piezos whose force is flat by nature."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.flattened_peaks import flattened
from tonecompare.strings import (
    Channel,
    NoiseSpec,
    Piezo,
    PluckSpec,
    VoiceSpec,
    render_recording,
    standard_instrument,
)

RATE_HZ = 48_000.0


def _piezo_plucks(position_mm: float, clip: float | None) -> tuple[list[FloatArray], list[str]]:
    voice = VoiceSpec("piezo", (Channel("piezo", piezo=Piezo(clip=clip), ratio=1.0),))
    plucks, notes = [], []
    for string in range(1, 7):
        for fret in (0, 5, 12):
            at_mm = min(position_mm, 324.0 * 2.0 ** (-fret / 12.0))
            pluck = PluckSpec(0.1, string, fret, position_mm=at_mm, width_mm=1.0, release_ms=0.05)
            rendered = render_recording(
                standard_instrument(), voice, [pluck], length_s=0.5, rate_hz=RATE_HZ,
                noise=NoiseSpec(hiss_dbfs=-90.0), rng=np.random.default_rng(1),
            )  # fmt: skip
            plucks.append(rendered.samples[0, 4800:])
            notes.append(f"string {string}, fret {fret}")
    return plucks, notes


@pytest.mark.parametrize("position_mm", [30.0, 120.0, 200.0, 320.0])
def test_a_clean_piezo_has_no_flattened_peaks(position_mm: float) -> None:
    plucks, notes = _piezo_plucks(position_mm, None)
    assert not any(flattened(plucks, notes, rate_hz=RATE_HZ))


@pytest.mark.parametrize("clip", [0.04, 0.06])
def test_a_preamp_at_its_rail_is_found(clip: float) -> None:
    plucks, notes = _piezo_plucks(120.0, clip)
    reach = [float(np.abs(pluck).max()) > 0.99 * clip for pluck in plucks]
    found = flattened(plucks, notes, rate_hz=RATE_HZ)
    assert sum(found) > 0.5 * sum(reach)
    assert not any(f and not r for f, r in zip(found, reach, strict=True))


def test_a_square_wave_that_one_pluck_alone_holds_is_its_own() -> None:
    t_s = np.arange(round(0.3 * RATE_HZ)) / RATE_HZ
    square = 0.5 * np.sign(np.sin(2.0 * np.pi * 110.0 * t_s))
    soft = 0.2 * np.sin(2.0 * np.pi * 147.0 * t_s)
    assert flattened([square, soft], ["A2", "D3"], rate_hz=RATE_HZ) == (False, False)
    both = flattened([square, 0.5 * np.clip(9.0 * soft, -1.0, 1.0)], ["A2", "D3"], rate_hz=RATE_HZ)
    assert both == (True, True)


@pytest.mark.parametrize("hz", [82.4, 196.0, 329.6, 1000.0])
def test_no_sine_is_called_flattened(hz: float) -> None:
    t_s = np.arange(round(0.7 * RATE_HZ)) / RATE_HZ
    sines = [0.14 * np.sin(2.0 * np.pi * f * t_s) * np.exp(-1.7 * t_s) for f in (hz, 1.5 * hz)]
    assert flattened(sines, ["low", "high"], rate_hz=RATE_HZ) == (False, False)
    cut = [np.clip(sine, -0.1, 0.1) for sine in sines]
    assert flattened(cut, ["low", "high"], rate_hz=RATE_HZ) == (True, True)


def test_silence_is_not_flattened() -> None:
    assert flattened([np.zeros(20000)] * 2, ["A2", "D3"], rate_hz=RATE_HZ) == (False, False)
    assert flattened([], [], rate_hz=RATE_HZ) == ()


@pytest.mark.parametrize("below", ["piezo-bass", "pickup-and-microphone/electric"])
def test_real_clean_takes_have_none(recordings, below) -> None:
    plucks, notes, rates = [], [], set()
    for file in sorted((recordings / below).glob("*.flac")):
        samples, rate_hz = soundfile.read(file, always_2d=True)
        plucks.append(samples[:, 0])
        notes.append(file.name.split("_")[0])
        rates.add(float(rate_hz))
    (rate_hz,) = rates
    assert plucks
    assert not any(flattened(plucks, notes, rate_hz=rate_hz))
