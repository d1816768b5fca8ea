"""Idle noise of real recordings: what their description says must come out."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile as sf

from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult, measure_quiet


def _quiet(folder: Path, name: str, end_s: float) -> QuietResult:
    file = next(folder.rglob(name))
    samples, rate_hz = sf.read(file, dtype="float64", always_2d=True)
    return measure_quiet(samples[: int(end_s * rate_hz), 0], rate_hz=float(rate_hz))


@pytest.mark.parametrize(
    ("name", "end_s"),
    [("-1a-Low-B.flac", 0.6), ("-1c-Low-B-24th.flac", 0.95), ("-2a-F#.flac", 0.22)],
)
def test_low_strings_of_the_long_decays_carry_a_60_hz_family(
    recordings: Path, name: str, end_s: float
) -> None:
    found = _quiet(recordings / "long-decays", name, end_s).quantities
    # Described as 60 Hz about -63 dBFS, 180 Hz about -73; takes differ by several dB.
    mains, first, third = (found[k].value for k in ("mains_hz", "hum_01_dbfs", "hum_03_dbfs"))
    assert mains == pytest.approx(60.0, abs=0.1)
    assert first == pytest.approx(-60.0, abs=5.0)
    assert third == pytest.approx(-71.0, abs=5.0)


@pytest.mark.parametrize("guitar", ["green", "black"])
def test_idle_noise_of_the_two_guitars_has_a_50_hz_line(recordings: Path, guitar: str) -> None:
    found = _quiet(recordings / "two-guitars" / guitar / "fb", "fb_bkg.flac", 6.9).quantities
    # Described as a 50 Hz line at about -100 dBFS.
    assert found["hum_01_dbfs"].value == pytest.approx(-100.0, abs=4.0)
    mains = found["mains_hz"]
    assert mains.value is not None
    assert mains.uncertainty is not None
    assert abs(mains.value - 50.0) < 3.0 * mains.uncertainty + 0.05
