"""Plucks of rendered takes: all found, none made up, notes named, onsets placed, ends known.

Truth: the travelling-wave and mode model in tonecompare.strings; the onset it states is the time at
which the noiseless signal first passes 1 % of its first peak.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from takes_truth import BOTH, MAGNETIC, PIEZO, POSITIONS, Compared, pluck, rendered_take

from tonecompare import strings as st

#: Every string once, open and fretted.
FEW = POSITIONS[::5] + POSITIONS[2:12:3]


def assert_all_found(got: Compared, *, within_s: float = 0.3e-3) -> None:
    missed = [(row.true.number, row.true.note) for row in got.rows if row.found is None]
    assert not missed
    assert not got.extra
    named = [(row.true.note, row.found.note) for row in got.rows if row.found]
    assert [found for _, found in named] == [true for true, _ in named]
    for channel in range(len(got.take.outputs)):
        assert np.abs(got.errors_s(channel)).max() < within_s


@pytest.mark.parametrize("rate_hz", [44100.0, 96000.0])
@pytest.mark.parametrize(("snr_db", "within_s"), [(60.0, 0.2e-3), (45.0, 0.5e-3)])
def test_onset_bars(tmp_path: Path, rate_hz: float, snr_db: float, within_s: float) -> None:
    """0.2 ms at 60 dB, 0.5 ms at 45 dB, and 0.3 ms from pluck to pluck of the voice."""
    plucks = [pluck(1.2 + 0.9 * i, s, f, damp_s=0.7) for i, (s, f) in enumerate(POSITIONS)]
    level_dbfs = -27.0  # median level of such plucks, over 0.05-0.55 s
    noise = st.NoiseSpec(mains_hz=50.02, line_dbfs=(-60, -75, -68), hiss_dbfs=level_dbfs - snr_db)
    got = rendered_take(tmp_path, plucks, seed=3, noise=noise, rate_hz=rate_hz)
    assert_all_found(got, within_s=within_s)
    assert np.ptp(got.errors_s()) < 0.3e-3


@pytest.mark.parametrize("voice", [MAGNETIC, PIEZO, BOTH], ids=lambda voice: voice.name)
def test_other_strings_ring_on(tmp_path: Path, voice: st.VoiceSpec) -> None:
    plucks = [
        pluck(1.2 + 0.9 * i, s, f)
        for i, (s, f) in enumerate(POSITIONS if voice is MAGNETIC else FEW)
    ]
    got = rendered_take(tmp_path, plucks, seed=11, voice=voice)
    assert_all_found(got)
    assert all("over-ringing" in row.found.flags for row in got.rows[1:] if row.found)


def test_electronic_delay_shows_between_the_channels(tmp_path: Path) -> None:
    plucks = [pluck(1.2 + 1.0 * i, s, f, damp_s=0.8) for i, (s, f) in enumerate(FEW)]
    got = rendered_take(tmp_path, plucks, seed=5, voice=BOTH)
    lag = np.array([np.diff(row.found.channel_onset_s)[0] for row in got.rows if row.found])
    true = np.array([np.diff([o.motion_s for o in row.true.outputs])[0] for row in got.rows])
    np.testing.assert_allclose(lag, true, atol=0.3e-3)


@pytest.mark.parametrize("spacing_s", [0.4, 1.0])
def test_same_string_plucked_again(tmp_path: Path, spacing_s: float) -> None:
    strings = [6] * 3 + [5] * 3 + [3] * 3 + [1] * 3
    plucks = [pluck(1.2 + spacing_s * i, string) for i, string in enumerate(strings)]
    got = rendered_take(tmp_path, plucks, seed=2)
    assert all(row.found for row in got.rows)
    assert not got.extra
    assert np.abs(got.errors_s()).max() < 0.3e-3
    assert [row.found.note for row in got.rows if row.found] == [r.true.note for r in got.rows]


@pytest.mark.parametrize("damp", [True, False], ids=["damped", "ringing"])
def test_soft_plucks_20_db_under_loud_ones(tmp_path: Path, damp: bool) -> None:
    plucks = [
        pluck(
            1.2 + 0.9 * i,
            string,
            fret,
            strength_db=-6.0 - 20.0 * (i % 2),
            damp_s=0.7 if damp else None,
        )
        for i, (string, fret) in enumerate(POSITIONS)
    ]
    got = rendered_take(tmp_path, plucks, seed=7)
    assert_all_found(got)


def test_soft_pluck_of_the_string_that_rings_loud(tmp_path: Path) -> None:
    plucks = [
        pluck(1.2 + 1.5 * i, string, strength_db=-6.0 - 20.0 * (i % 2))
        for i, string in enumerate([6, 6, 4, 4, 3, 3, 1, 1])
    ]
    got = rendered_take(tmp_path, plucks, seed=8)
    assert_all_found(got)


def test_no_quiet_before_the_first(tmp_path: Path) -> None:
    plucks = [pluck(0.02 + 0.9 * i, s, f) for i, (s, f) in enumerate(FEW)]
    got = rendered_take(tmp_path, plucks, seed=9)
    assert_all_found(got)
    assert got.take.quiets == ()
    assert "no-quiet" in got.take.flags
    assert any("No quiet stretch" in said for said in got.take.problems)


def test_strong_hum(tmp_path: Path) -> None:
    """Hum at -40 dBFS under plucks of -40 dBFS; for B1 beside 60 Hz see test_note."""
    noise = st.NoiseSpec(
        mains_hz=60.02, line_dbfs=(-40, -55, -45, -60, -50, -60, -55), hiss_dbfs=-75.0
    )
    plucks = [
        pluck(1.2 + 0.9 * i, s, f, strength_db=-20.0, damp_s=0.7) for i, (s, f) in enumerate(FEW)
    ]
    got = rendered_take(tmp_path, plucks, seed=10, noise=noise)
    assert_all_found(got, within_s=0.5e-3)
    assert got.take.quiets[0].start_s < 0.2
    assert got.take.quiets[0].length_s > 0.8


def test_clicks_and_knocks_are_no_plucks(tmp_path: Path) -> None:
    def noises(samples: np.ndarray) -> np.ndarray:
        for at_s in (0.4, 0.9, 2.45, 4.1, 6.9):
            samples[:, round(at_s * 44100)] += 0.4
        n = round(0.02 * 44100)
        knock = 0.3 * np.exp(-np.arange(n) / 88.0) * np.sin(2 * np.pi * 200 * np.arange(n) / 44100)
        for at_s in (0.7, 3.4):
            samples[:, round(at_s * 44100) : round(at_s * 44100) + n] += knock
        return np.clip(samples, -0.99, 0.99)

    plucks = [pluck(1.2 + 1.0 * i, s, f, damp_s=0.8) for i, (s, f) in enumerate(FEW)]
    got = rendered_take(tmp_path, plucks, seed=11, edit=noises)
    assert all(row.found for row in got.rows)
    assert not got.extra


def test_touch_before_the_release_is_one_pluck(tmp_path: Path) -> None:
    """The pick pushes the string for 50 ms first: a growing swing up to a tenth of the pluck."""

    def touched(samples: np.ndarray) -> np.ndarray:
        n = round(0.05 * 44100)
        push = np.linspace(0.0, 1.0, n) ** 2 * np.sin(2 * np.pi * 330.0 * np.arange(n) / 44100)
        for at_s in starts_s:
            end = round(at_s * 44100)
            peak = np.abs(samples[:, end : end + 4410]).max()
            samples[:, end - n : end] += 0.1 * peak * push
            samples[:, end - n] += 0.05 * peak
        return samples

    starts_s = [1.2 + 1.0 * i for i in range(len(FEW))]
    plucks = [pluck(1.2 + 1.0 * i, s, f, damp_s=0.8) for i, (s, f) in enumerate(FEW)]
    got = rendered_take(tmp_path, plucks, seed=12, edit=touched, vary=False)
    assert all(row.found for row in got.rows)
    assert not got.extra
    # The push hides the first, small motion of the lowest string.
    assert np.abs(got.errors_s()).max() < 2.5e-3
    assert np.median(np.abs(got.errors_s())) < 0.3e-3
    assert all(quiet.start_s + quiet.length_s < 1.14 for quiet in got.take.quiets[:1])


@pytest.mark.parametrize("rate_hz", [8000.0, 22050.0, 48000.0])
def test_other_rates(tmp_path: Path, rate_hz: float) -> None:
    plucks = [pluck(1.2 + 0.9 * i, s, f, damp_s=0.7) for i, (s, f) in enumerate(FEW)]
    got = rendered_take(tmp_path, plucks, seed=13, rate_hz=rate_hz)
    assert_all_found(got, within_s=0.4e-3)
    assert ("low-rate" in got.take.flags) == (rate_hz < 32000)


def test_ends_are_known(tmp_path: Path) -> None:
    plucks = [pluck(1.2 + 0.9 * i, s, f, damp_s=0.6) for i, (s, f) in enumerate(POSITIONS[:6])]
    got = rendered_take(tmp_path, plucks, seed=14)
    for row in got.rows:
        assert row.found
        assert row.found.ended_by == row.true.ended_by == "damped"
        assert row.found.end_s == pytest.approx(row.true.end_s, abs=0.05)
        assert "damped" in row.found.flags


def test_quiet_has_no_pluck_in_it(tmp_path: Path) -> None:
    plucks = [pluck(1.5 + 1.5 * i, s, f, damp_s=0.8) for i, (s, f) in enumerate(POSITIONS[:4])]
    got = rendered_take(tmp_path, plucks, seed=15)
    ringing = [(min(o.onset_s for o in p.outputs), p.end_s) for p in got.rendered.truth.plucks]
    assert sum(quiet.length_s for quiet in got.take.quiets) > 2.0
    for quiet in got.take.quiets:
        for onset_s, end_s in ringing:
            assert quiet.start_s + quiet.length_s < onset_s - 0.05 or quiet.start_s > end_s - 0.01
