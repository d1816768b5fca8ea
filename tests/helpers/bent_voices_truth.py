"""Whole takes of pickups near enough to the strings to bend, rendered, measured and compared."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from positions_errors import Column
from takes_truth import load

from tonecompare import strings as st
from tonecompare.measure.place.pick_and_pickup import amplitudes_of, find_positions
from tonecompare.measure.take import measure_take

SCALE_MM = 648.0
QUANTITIES = ("pick mm", "pickup mm", "stretch %")
HANDS_MM = (4.0, 1.5, 0.5)


@dataclass(frozen=True)
class BentVoice:
    """A rendered voice: samples (n,), the plucks played, and what is true of its pickup."""

    samples: np.ndarray
    plucks: tuple[st.PluckSpec, ...]
    instrument: st.InstrumentSpec
    pickup_mm: float


def bent_voice(seed: int, *, hiss_dbfs: float = -80.0) -> BentVoice:
    """Draw and render a voice: 18 plucks, open strings three times or each at three frets.

    Distance law of 3 to 6 mm, single coil or humbucker anywhere, circuit, release, pick, string
    damping, stiffness and string-to-string balance drawn anew; hands of 4, 1.5 and 0.5 mm in turn.
    """
    rng = np.random.default_rng([91, seed])
    place, law = float(rng.uniform(40.0, 165.0)), st.DistanceLaw(float(rng.uniform(3.0, 6.0)))
    cable_f, own_f = float(rng.uniform(150e-12, 900e-12)), float(rng.uniform(8e-11, 2e-10))
    if seed % 2:
        circuit = st.Circuit(float(rng.uniform(3.5, 6.0)), 1e4, own_f, 150e3, cable_f)
        coils = tuple(st.Coil(place + side * 9.0, 10.0, 0.5, -side, law) for side in (-1.0, 1.0))
    else:
        circuit = st.Circuit(float(rng.uniform(2.0, 3.5)), 6.5e3, own_f, 130e3, cable_f)
        coils = (st.Coil(place, float(rng.uniform(8.0, 20.0)), law=law),)
    strings = tuple(
        replace(
            string,
            inharmonicity=string.inharmonicity * float(np.exp(0.4 * rng.standard_normal())),
            magnetic_gain=string.magnetic_gain * 10.0 ** (float(rng.normal(0.0, 2.0)) / 20.0),
        )
        for string in st.standard_strings()
    )
    instrument = replace(st.standard_instrument(), strings=strings)
    frets = (0, 5, 12) if seed % 4 < 2 else (0, 0, 0)
    like = st.PluckSpec(
        0.0, 1, position_mm=float(rng.uniform(70.0, 180.0)), width_mm=float(rng.uniform(2.0, 6.0)),
        strength_db=float(rng.uniform(-8.0, -1.0)), release_ms=float(rng.uniform(0.08, 0.35)),
    )  # fmt: skip
    plucks = st.vary_plucks(
        st.plucks_in_turn(
            [(string, fret) for string in range(6, 0, -1) for fret in frets], start_s=1.5,
            spacing_s=2.4, damp_before_s=0.2, like=like,
        ),
        rng=rng, spread=st.Spread(position_mm=HANDS_MM[seed % 3]),
    )  # fmt: skip
    voice = st.VoiceSpec("v", (st.Channel("magnetic", st.Magnetic(coils, circuit)),))
    rendered = st.render_recording(
        instrument, voice, plucks, rng=rng, rate_hz=44100.0, subtype="FLOAT"
    )
    samples = rendered.samples[0] * 0.5 / np.max(np.abs(rendered.samples))
    noise = rng.normal(0.0, 10.0 ** (hiss_dbfs / 20.0), samples.size)
    return BentVoice(samples + noise, tuple(plucks), instrument, place)


def add_bent_voice(out: dict[str, Column], voice: BentVoice, folder: Path) -> None:
    """Measure a voice as a file and add its errors."""
    import soundfile

    path = folder / "voice.wav"
    soundfile.write(path, voice.samples, 44100, subtype="PCM_24")
    result = measure_take(load([path])[0][0], file=path.name)
    times = np.array([spec.time_s for spec in voice.plucks])
    plucks, picks, lengths = [], [], []
    for found, partials in zip(result.plucks, result.partials.values(), strict=True):
        spec = voice.plucks[int(np.argmin(np.abs(times - (found.value("onset_s") or 0.0))))]
        length = SCALE_MM * 2.0 ** (-spec.fret / 12.0)
        plucks.append(amplitudes_of(partials, sounding=length / SCALE_MM))
        picks.append(min(spec.position_mm, length - spec.position_mm))
        lengths.append(length)
        stretch = voice.instrument.string(spec.string).inharmonicity * 4.0 ** (spec.fret / 12.0)
        out["stretch %"].add_ratio(found.quantities["inharmonicity"], stretch)
    places = find_positions(plucks)
    for point, sd, pick, length in zip(
        places.pluck_point, places.pluck_point_sd, picks, lengths, strict=True
    ):
        known = bool(np.isfinite(point))
        out["pick mm"].add(
            float(point * length - pick) if known else None, float(sd * length) if known else None
        )
    point, point_sd = places.pickup_point, places.pickup_point_sd
    out["pickup mm"].add(
        None if point is None else point * SCALE_MM - voice.pickup_mm,
        None if point_sd is None else point_sd * SCALE_MM,
    )


def bent_columns(voices: range, folder: Path) -> dict[str, Column]:
    """Errors of each quantity over some voices."""
    out = {name: Column() for name in QUANTITIES}
    for seed in voices:
        add_bent_voice(out, bent_voice(seed), folder)
    return out
