"""A scrape stands before its note, as loud as stated, and leaves the note alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.strings.attack.pick_slip import slip_velocity, wave_velocity_m_per_s
from tonecompare.strings.modes import string_modes, velocity_drive

RATE = 44100.0
PLUCK = st.PluckSpec(0.1, 5, release_ms=0.05)


def test_the_released_wave_has_the_velocity_of_d_alembert():
    _, modes = string_modes(st.standard_instrument(), PLUCK, rate_hz=400e3)
    # Sum of modes 20 mm beside the pick, once the front has passed: half of c times the kink.
    x = modes.number * np.pi * (PLUCK.position_mm + 20.0) / modes.length_mm
    t = 0.030 / modes.wave_speed_m_per_s
    still = np.real(velocity_drive(modes)[:, 0] * np.exp(1j * modes.rates[:, 0].imag * t))
    velocity = abs(float(np.sum(np.sin(x) * still))) / np.cos(np.deg2rad(PLUCK.angle_deg))
    assert wave_velocity_m_per_s(PLUCK, modes) == pytest.approx(velocity, rel=0.05)


def test_level_and_length_are_as_stated():
    slip = st.Slip(length_ms=8.0, level_db=-20.0)
    loudest = []
    for seed in range(200):
        v = slip_velocity(
            slip, wave_m_per_s=2.0, release_s=0.02, n=1764, rate_hz=RATE,
            rng=np.random.default_rng(seed),
        )  # fmt: skip
        before, at = round(0.0119 * RATE), round(0.02 * RATE)
        assert not np.any(v[:before])
        loudest.append(np.mean(v[at - 4 : at + 1] ** 2))
    # −20 dB of 2 m/s at the release.
    assert np.sqrt(np.mean(loudest)) == pytest.approx(0.2, rel=0.08)


@pytest.mark.parametrize(
    "channel",
    [
        st.Channel("magnetic", st.humbucker(45.0)),
        st.Channel("piezo", None, st.Piezo(), ratio=1.0),
    ],
)
def test_a_scrape_is_before_the_note_and_leaves_the_note(channel):
    def samples(slip: st.Slip | None) -> np.ndarray:
        return st.render_recording(
            st.standard_instrument(), st.VoiceSpec("v", (channel,)), [replace(PLUCK, slip=slip)],
            rng=np.random.default_rng(1), rate_hz=RATE, length_s=0.6, subtype="FLOAT",
        ).samples[0]  # fmt: skip

    silent, scraped = samples(None), samples(st.Slip())
    added = scraped - silent
    start, release, after = (round(t * RATE) for t in (0.093, 0.1, 0.125))
    assert not np.any(added[:start])
    assert np.max(np.abs(added[after:])) < 1e-4 * np.max(np.abs(added))
    assert np.sum(added[start:release] ** 2) > 0.3 * np.sum(added**2)
    peaks = [np.max(np.abs(x)) for x in (added, silent)]
    assert 0.001 < peaks[0] / peaks[1] < 0.3
