"""Every measured number carries a standard error, or the registry says why not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from pluck_truth import RATE_HZ, series
from quiet_truth import falling_hum

from tonecompare.measure.quiet.signal_to_hum import with_signal_to_hum
from tonecompare.measure.take import TakeResult, measure_take
from tonecompare.quantities.columns import MEASUREMENTS, QUIET, VOICES
from tonecompare.quantities.meanings import meaning_of
from tonecompare.quantities.octave_bands import BAND_DECAYS
from tonecompare.takes.model import Audio, Pluck, Quiet, Take

#: Names, counts and places in a file, and what is decided rather than measured.
NAMES = {"stage", "voice", "output", "file", "channel", "pluck", "note", "string", "flags",
         "event", "n_plucks", "n_notes"}  # fmt: skip
WITHOUT = {"ring_s", "start_s", "length_s"}
#: Filled when all plucks of the voice, or all passages of the session, are known.
BY_VOICE = {"pluck_point", "likeness", "riff_offset_s", *BAND_DECAYS}


def _result() -> TakeResult:
    rng = np.random.default_rng(3)
    x = np.concatenate([np.zeros(round(1.0 * RATE_HZ)), series(110.0)])
    x += falling_hum(-60.0, rng, mains_hz=50.0, n=x.size, rate_hz=RATE_HZ)
    x += rng.normal(0.0, 1e-5, x.size)
    pluck = Pluck(1, (1.0,), x.size / RATE_HZ, "file-end", 110.0, "A2", 5,
                  channel_onset_sd_s=(2e-5,))  # fmt: skip
    audio = Audio(Path("v.wav"), x[None], RATE_HZ, "PCM_24", "")
    take = Take("s", "v", ("magnetic",), audio, (Quiet(0.0, 1.0),), (pluck,))
    result = measure_take(take, file="v.wav")
    return replace(result, quiets=with_signal_to_hum(result.plucks, result.quiets))


def test_every_measured_number_has_its_uncertainty() -> None:
    result = _result()
    tables = ((MEASUREMENTS, result.plucks[0].cells()), (QUIET, result.quiets[0].cells()))
    for columns, row in tables:
        for name in set(columns) - NAMES - WITHOUT - BY_VOICE:
            assert f"{name}_se" in row, name
            if row[name] is not None:
                assert isinstance(row[f"{name}_se"], float), name
                assert row[f"{name}_se"] > 0.0, name
    for name in set(VOICES) - NAMES:
        assert name.endswith("_se") or f"{name}_se" in VOICES, name


def test_the_registry_says_why_those_have_none() -> None:
    for name in WITHOUT:
        meaning = meaning_of(name)
        assert meaning is not None, name
        assert "decision" in meaning.no_error, name
    level = meaning_of("level_dbfs")
    assert level is not None
    assert not level.no_error
