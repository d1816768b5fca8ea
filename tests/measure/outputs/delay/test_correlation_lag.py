"""The lag read off two outputs: exact for one signal, open where two extrema rival."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import librosa
import numpy as np
import pytest
import soundfile as sf
from two_outputs import Wiring, pluck

from tonecompare.measure.outputs.delay.correlation_lag import correlation_lag
from tonecompare.measure.outputs.measure_outputs import measure_delay
from tonecompare.measure.outputs.results import BlendPair

RATE_HZ = 48000.0


@pytest.mark.parametrize("delay_us", [-730.0, 0.0, 51.0, 1999.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_one_signal_late_by_part_of_a_sample(delay_us: float, sign: int) -> None:
    # The delay is laid on in the frequency domain (exact); steps of the search are 1.3 us.
    noise = np.random.default_rng(1).standard_normal(30000)
    noise[:2000] = noise[-2000:] = 0.0
    hz = np.fft.rfftfreq(noise.size, 1 / RATE_HZ)
    late = sign * np.fft.irfft(np.fft.rfft(noise) * np.exp(-2j * np.pi * hz * delay_us * 1e-6))
    lag = correlation_lag(BlendPair("A2", 5, 110.0, noise, late, 2500, RATE_HZ))
    assert lag is not None
    assert 1e6 * lag.lag_s == pytest.approx(delay_us, abs=2.0)
    assert lag.sign == sign
    assert lag.height > 0.8


def test_quadrature_leaves_the_sign_open() -> None:
    # check-values section 7: for the ideal string the correlation is antisymmetric with extrema of
    # both signs near -d/c and +d/c; here d/c = 0.1 / (2 * 110) s.
    pair = pluck(
        110.0, wiring=Wiring(), position=0.1, snr_db=None, t60_s=20.0, length_s=0.6,
        rng=np.random.default_rng(2),
    )  # fmt: skip
    lag = correlation_lag(pair)
    assert lag is not None
    assert lag.sign is None


def test_silence_and_a_cut_note_have_no_lag() -> None:
    pair = pluck(110.0, wiring=Wiring(), rng=np.random.default_rng(3))
    assert correlation_lag(replace(pair, piezo=np.zeros(pair.piezo.size))) is None
    short = replace(pair, magnetic=pair.magnetic[:2000], piezo=pair.piezo[:2000])
    assert correlation_lag(short) is None


@pytest.fixture(scope="module")
def microphone_pairs(recordings: Path) -> list[BlendPair]:
    """The same pluck on a magnetic pickup and a microphone, real takes."""
    folder = recordings / "pickup-and-microphone"
    pairs = []
    for file in sorted((folder / "electric").glob("*_2.flac")):
        magnetic, rate = sf.read(file, frames=44100)
        other, _ = sf.read(
            folder / "acoustic" / file.name.replace("_2.flac", "_1.flac"), frames=44100
        )
        lead = np.zeros(round(0.02 * rate))
        note = file.name.split("_")[0].upper()
        pairs.append(
            BlendPair(
                note, None, float(librosa.note_to_hz(note)), np.concatenate([lead, magnetic]),
                np.concatenate([lead, other]), lead.size, float(rate), label=file.name,
            )
        )  # fmt: skip
    return pairs


def test_lag_between_pickup_and_microphone_repeats(microphone_pairs: list[BlendPair]) -> None:
    # Another output of the same pluck arrives the same way each time; the files were trimmed one
    # by one, so the bound is on the median deviation, and within what air and string can do.
    for note in ("A2", "C4"):
        lags = [correlation_lag(pair) for pair in microphone_pairs if pair.note == note]
        values = np.array([lag.lag_s for lag in lags if lag is not None])
        assert values.size >= 8
        assert np.median(np.abs(values - np.median(values))) < 50e-6
        assert np.all(np.abs(values) < 5e-3)


@pytest.mark.long
def test_a_microphone_is_not_taken_for_a_saddle(microphone_pairs: list[BlendPair]) -> None:
    # Air, body and room stand between: no pluck gives a polarity, and all together neither.
    for pair in microphone_pairs:
        assert measure_delay([pair]).polarity is None
    together = measure_delay(microphone_pairs)
    assert together.polarity is None
    assert together.reason
