"""Level match and attack of two outputs, each at the bench, on signals of known content."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from two_outputs import FloatArray, Wiring, open_strings

from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.level_match import level_difference_db, transient_db
from tonecompare.measure.outputs.measure_outputs import measure_delay
from tonecompare.measure.outputs.output_quality import knocks, output_quality, piezo_findings
from tonecompare.measure.outputs.results import BlendPair, PiezoFinding, QuietPair

RATE_HZ = 48000.0
LEAD = 960


def _sine(hz: float, *, rms: float = 0.1, length_s: float = 0.7, t60_s: float = 1e9) -> FloatArray:
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    tone = rms * np.sqrt(2) * np.sin(2 * np.pi * hz * t) * np.exp(-6.907755 / t60_s * t)
    return np.concatenate([np.zeros(LEAD), tone])


def _pair(magnetic: FloatArray, piezo: FloatArray, noise: Noise | None = None) -> BlendPair:
    return BlendPair("A3", None, 220.0, magnetic, piezo, LEAD, RATE_HZ, noise, noise)


def _white(rms: float) -> Noise:
    hz = np.linspace(0.0, RATE_HZ / 2, 4801)
    density = np.full(hz.size, rms**2 / (hz.size * hz[1]))
    return Noise(RATE_HZ, hz, density, None, np.array([]), np.array([]), 2.0)


def test_level_difference_of_two_sines() -> None:
    pair = _pair(_sine(220.0, rms=0.1), _sine(220.0, rms=0.025))
    assert level_difference_db(pair) == pytest.approx(20 * np.log10(0.25), abs=1e-6)


def test_level_difference_without_the_quiet() -> None:
    # The piezo is a sine of RMS 0.02 in white noise of RMS 0.015: 4.4 dB above it.
    rng = np.random.default_rng(3)
    piezo = _sine(220.0, rms=0.02)
    piezo = piezo + 0.015 * rng.standard_normal(piezo.size)
    pair = _pair(_sine(220.0, rms=0.1), piezo, _white(0.015))
    assert level_difference_db(pair) == pytest.approx(20 * np.log10(0.2), abs=0.15)


def test_an_output_below_its_quiet_has_no_level() -> None:
    pair = _pair(_sine(220.0), 1e-4 * np.random.default_rng(1).standard_normal(34560), _white(1e-4))
    assert level_difference_db(pair) is None


def test_attack_of_a_steady_sine_is_its_crest() -> None:
    value = transient_db(_sine(220.0), onset_index=LEAD, rate_hz=RATE_HZ)
    assert value == pytest.approx(3.0103, abs=0.01)


def test_attack_of_a_decay() -> None:
    # Closed form: peak sqrt(2) A near the onset, RMS of 0.1-0.5 s of A exp(-s t); T60 1 s.
    s = 6.907755
    mean_square = (np.exp(-2 * s * 0.1) - np.exp(-2 * s * 0.5)) / (2 * s * 0.4)
    expected = 10 * np.log10(2 * np.exp(-2 * s / 4 / 1000.0) / mean_square)
    samples = _sine(1000.0, t60_s=1.0)
    value = transient_db(samples, onset_index=LEAD, rate_hz=RATE_HZ)
    assert value == pytest.approx(expected, abs=0.02)


def test_attack_per_band_hears_a_click_only_where_it_is() -> None:
    samples = _sine(150.0) + _sine(5000.0, rms=0.01)
    click = samples.copy()
    click[LEAD + 48 : LEAD + 96] += 0.3 * np.sin(2 * np.pi * 5000.0 * np.arange(48) / RATE_HZ)

    def attack(x: FloatArray, band: str) -> float:
        value = transient_db(x, onset_index=LEAD, rate_hz=RATE_HZ, band=band)
        assert value is not None
        return value

    assert attack(click, "high") - attack(samples, "high") > 15.0
    assert attack(click, "low") == pytest.approx(attack(samples, "low"), abs=0.5)


def test_attack_needs_half_a_second() -> None:
    samples = _sine(220.0, length_s=0.4)
    assert transient_db(samples, onset_index=LEAD, rate_hz=RATE_HZ) is None


def test_knocks_are_counted() -> None:
    rng = np.random.default_rng(4)
    quiet = 1e-4 * rng.standard_normal(96000) + 1e-3 * np.sin(
        2 * np.pi * 50 * np.arange(96000) / RATE_HZ
    )
    assert knocks(quiet, rate_hz=RATE_HZ)[0] == 0
    for at in (20000, 50000, 80000):
        quiet[at : at + 500] += 0.02 * rng.standard_normal(500) * np.exp(-np.arange(500) / 100)
    count, peak_dbfs = knocks(quiet, rate_hz=RATE_HZ)
    assert count == 3
    assert peak_dbfs == pytest.approx(20 * np.log10(0.04), abs=6.0)


def test_a_weak_string_is_named() -> None:
    rng = np.random.default_rng(5)
    pairs = open_strings(Wiring(), rng=rng, length_s=0.6, snr_db=60.0)
    assert not _imbalance(pairs)
    # The saddle under string 3 gives half of what it should: -6.02 dB.
    weak = [
        dataclasses.replace(pair, piezo=0.5 * pair.piezo) if pair.string == 3 else pair
        for pair in pairs
    ]
    found = _imbalance(weak)
    assert [f.where for f in found] == ["string 3"]
    assert found[0].value == pytest.approx(-6.02, abs=0.5)


def _imbalance(pairs: list[BlendPair]) -> list[PiezoFinding]:
    both = output_quality(pairs, "magnetic"), output_quality(pairs, "piezo")
    found = piezo_findings(pairs, *both, gain_db=measure_delay(pairs).gain_db)
    return [finding for finding in found if finding.kind == "string-balance"]


def test_crosstalk_fills_the_nodes() -> None:
    pairs = open_strings(Wiring(), rng=np.random.default_rng(11), length_s=0.6, snr_db=70.0)
    clean = measure_delay(pairs).node_db
    assert clean is not None
    assert clean < -23.0
    # A tenth of the piezo output leaks into the magnetic: -20 dB of what stands there without the
    # comb, since for this string |M/P| = |sin| (closed form).
    leaking = [
        dataclasses.replace(pair, magnetic=pair.magnetic + 0.1 * pair.piezo) for pair in pairs
    ]
    fit = measure_delay(leaking)
    assert fit.node_db is not None
    assert fit.node_db == pytest.approx(-20.0, abs=2.0)
    both = output_quality(leaking, "magnetic"), output_quality(leaking, "piezo")
    findings = piezo_findings(leaking, *both, node_db=fit.node_db)
    assert any(f.kind == "crosstalk" for f in findings)
    assert not any(f.kind == "crosstalk" for f in piezo_findings(pairs, *both, node_db=clean))


def test_without_quiet_quality_leaves_open_what_rests_on_it() -> None:
    pairs = open_strings(Wiring(), rng=np.random.default_rng(6), strings=(5, 4), length_s=0.6)
    quality = output_quality(pairs, "piezo")
    assert np.isnan(quality.hum_dbfs)
    assert np.isnan(quality.handling_per_s)
    assert np.isnan(quality.bandwidth_hz)


def test_quality_of_a_quiet_with_knocks() -> None:
    pairs = open_strings(Wiring(), rng=np.random.default_rng(7), strings=(5, 4), length_s=0.6)
    rng = np.random.default_rng(8)
    piezo = 1e-4 * rng.standard_normal(96000)
    piezo[48000:48400] += 0.05 * rng.standard_normal(400)
    quality = output_quality(
        pairs, "piezo", quiets=[QuietPair(1e-4 * rng.standard_normal(96000), piezo, RATE_HZ)]
    )
    assert quality.handling_per_s == pytest.approx(0.5)
    assert any(f.kind == "handling" for f in piezo_findings(pairs, quality, quality))


def test_bandwidth_of_a_band_limited_output() -> None:
    rng = np.random.default_rng(9)
    noise = rng.standard_normal(60000) * 0.1
    spectrum = np.fft.rfft(noise)
    hz = np.fft.rfftfreq(noise.size, 1 / RATE_HZ)
    limited = np.fft.irfft(np.where(hz < 4000.0, spectrum, 0.0), noise.size)
    quality = output_quality([_pair(limited, noise, _white(1e-5))], "magnetic")
    # 4 kHz lies in the third octave 3548–4467 Hz (IEC 61260-1).
    assert quality.bandwidth_hz == pytest.approx(4466.8, rel=1e-3)
