"""A take measured as a whole: rows, flags, what is missing, one channel beside the other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pluck_truth import RATE_HZ, series

from tonecompare.measure.flags import flags_cell, unmeasured_flag, words
from tonecompare.measure.measured import Measured, flags_of
from tonecompare.measure.partials.damped_sinusoids import DampedFit, fit_damped
from tonecompare.measure.take import TakeResult, measure_take
from tonecompare.measure.voice import sounding_share
from tonecompare.quantities.columns import MEASUREMENTS, QUIET
from tonecompare.quantities.octave_bands import BAND_DECAYS
from tonecompare.takes.model import Audio, Pluck, Quiet, Take

QUIET_S = 1.0


def _take(*channels: np.ndarray, quiets: bool = True, f0_hz: float | None = 110.0,
          flags: tuple[str, ...] = ()) -> Take:  # fmt: skip
    audio = Audio(Path("v.wav"), np.stack(channels), RATE_HZ, "PCM_24", "")
    end_s = channels[0].size / RATE_HZ
    onsets = (QUIET_S,) * len(channels)
    pluck = Pluck(1, onsets, end_s, "file-end", f0_hz, "A2" if f0_hz else "", 5, flags)
    outputs = ("magnetic", "piezo")[: len(channels)]
    return Take("s", "v", outputs, audio, (Quiet(0.0, QUIET_S),) if quiets else (), (pluck,))


def _samples(gain: float = 0.1, noise: float = 1e-5, seed: int = 1) -> np.ndarray:
    x = np.concatenate([np.zeros(round(QUIET_S * RATE_HZ)), series(110.0, gain=gain)])
    return x + np.random.default_rng(seed).normal(0.0, noise, x.size)


def _number(result: TakeResult, name: str, row: int = 0) -> float:
    value = result.plucks[row].value(name)
    assert isinstance(value, float)
    return value


def test_rows_hold_every_column_of_the_contract() -> None:
    result = measure_take(_take(_samples()), file="v.wav")
    # Filled when all plucks of the voice, and all passages of the session, are known.
    by_voice = {"pluck_point", "likeness", "riff_offset_s"}
    by_recording = {"signal_to_hum_db"}
    of_chords = set(BAND_DECAYS)
    assert set(MEASUREMENTS) - by_voice - of_chords <= set(result.plucks[0].cells())
    assert set(QUIET) - by_recording <= set(result.quiets[0].cells())
    assert "decay_s_se" in result.plucks[0].cells()


def test_gain_moves_levels_and_nothing_else() -> None:
    quiet = measure_take(_take(_samples(0.05, 0.5e-5)), file="v.wav")
    loud = measure_take(_take(_samples(0.1, 1e-5)), file="v.wav")
    for name in ("level_dbfs", "peak_dbfs"):
        assert _number(loud, name) - _number(quiet, name) == pytest.approx(6.0206, abs=1e-6)
    for name in ("f0_hz", "centroid_hz", "decay_s", "h03_db", "attack_ms", "odd_even_db"):
        assert _number(loud, name) == pytest.approx(_number(quiet, name), rel=1e-6)


@pytest.mark.parametrize("offset", [0.02, -0.003])
@pytest.mark.parametrize("quiets", [True, False])
def test_a_recording_that_sits_off_zero_measures_the_same(offset: float, quiets: bool) -> None:
    plain = measure_take(_take(_samples(), quiets=quiets), file="v.wav")
    moved = measure_take(_take(_samples() + offset, quiets=quiets), file="v.wav")
    names = ("level_dbfs", "f0_hz", "centroid_hz", "attack_ms", "odd_even_db", "h05_db", "decay_s",
             "decay_early_s", "decay_h03_s")  # fmt: skip
    for name in names:
        assert _number(moved, name) == pytest.approx(_number(plain, name), rel=1e-6), name
    # The largest sample is what the converter saw, offset and all.
    highest = np.abs(_samples()[round(QUIET_S * RATE_HZ) :] + offset).max()
    assert _number(moved, "peak_dbfs") == pytest.approx(20.0 * np.log10(highest), abs=1e-6)


def test_channels_are_measured_apart() -> None:
    result = measure_take(_take(_samples(0.1), _samples(0.05, seed=2)), file="v.wav")
    assert [pluck.subject.output for pluck in result.plucks] == ["magnetic", "piezo"]
    assert _number(result, "level_dbfs") - _number(result, "level_dbfs", 1) == pytest.approx(
        6.0206, abs=0.01
    )


def test_without_quiet_nothing_is_taken_off_and_the_ratio_is_missing() -> None:
    result = measure_take(_take(_samples(), quiets=False), file="v.wav")
    row = result.plucks[0].cells()
    assert row["snr_db"] is None
    assert row["snr_db_se"] is None
    assert unmeasured_flag("no quiet was found", "snr_db") in row["flags"]
    assert _number(result, "decay_s") == pytest.approx(4.0, rel=0.02)
    assert result.quiets == ()


def test_without_pitch_the_rest_is_still_measured() -> None:
    row = measure_take(_take(_samples(), f0_hz=None), file="v.wav").plucks[0].cells()
    assert row["f0_hz"] is None
    assert row["h01_db"] is None
    assert isinstance(row["level_dbfs"], float)
    assert isinstance(row["decay_s"], float)
    assert "no pitch was found" in flags_cell(row["flags"])


def test_spare_noise_of_another_rate_is_not_used() -> None:
    noise = measure_take(_take(_samples()), file="v.wav").noise[1]
    silent = _take(_samples(), quiets=False)
    with_spare = measure_take(silent, file="v.wav", spare_noise={1: noise})
    assert isinstance(with_spare.plucks[0].value("snr_db"), float)
    other = Audio(silent.audio.path, silent.audio.samples, 44100.0, "PCM_24", "")
    moved = Take("s", "v", silent.outputs, other, (), silent.plucks)
    assert (
        measure_take(moved, file="v.wav", spare_noise={1: noise}).plucks[0].value("snr_db") is None
    )


def test_flags_are_said_once_and_runs_by_their_ends() -> None:
    missing = Measured(None, "dB", reason="too weak")
    flags = flags_of(
        words("damped", "damped"),
        {"a": Measured(1.0, "dB"), "h03_db": missing, "h04_db": missing, "h05_db": missing},
    )
    assert flags_cell(flags) == "damped; h03_db…h05_db: too weak"


def test_partials_whose_fit_did_not_come_to_rest_are_flagged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = measure_take(_take(_samples()), file="v.wav")
    assert "unsettled" not in flags_cell(whole.plucks[0].flags)

    def hasty(*args: Any, **kinds: Any) -> DampedFit:
        return fit_damped(*args, **kinds, iterations=1)

    monkeypatch.setattr("tonecompare.measure.partials.partial_set.fit_damped", hasty)
    cut = measure_take(_take(_samples()), file="v.wav")
    partials = cut.partials[(1, 1)]
    open_ = [f"h{n + 1:02d}" for n in np.flatnonzero(partials.measured & ~partials.converged)]
    assert "h01" in open_
    assert f"unsettled {' '.join(open_)}" in flags_cell(cut.plucks[0].flags).split("; ")


def test_sounding_share_is_two_to_the_frets() -> None:
    tuning = ("E2", "A2", "D3", "G3", "B3", "E4")
    assert sounding_share("E3", 6, tuning) == pytest.approx(0.5)
    assert sounding_share("A2", 5, tuning) == 1.0
    assert sounding_share("A2", None, tuning) is None
    assert sounding_share("D2", 6, tuning) is None


def test_several_plucks_are_those_of_each_alone_in_the_order_they_were_played() -> None:
    """Out of the order of their notes, of several lengths, with one too short and one unnamed."""
    told = [("E3", 164.8, 2.2), ("A2", 110.0, 2.6), ("E3", 164.8, 1.9), ("A2", 110.0, 0.1),
            ("B2", 123.5, 2.2), ("", None, 2.0)]  # fmt: skip
    rng = np.random.default_rng(6)
    parts, plucks, at_s = [rng.normal(0.0, 1e-5, round(QUIET_S * RATE_HZ))], [], QUIET_S
    for number, (note, f0_hz, length_s) in enumerate(told, start=1):
        x = series(f0_hz or 98.0, gain=0.02 * number)[: round(length_s * RATE_HZ)]
        # The second polarisation of every other pluck beats with the first.
        beat = np.cos(2.0 * np.pi * 0.7 * np.arange(x.size) / RATE_HZ) if number % 2 else 0.0
        parts.append(x * (1.0 + 0.2 * beat) + rng.normal(0.0, 1e-5, x.size))
        end_s = at_s + x.size / RATE_HZ
        plucks.append(Pluck(number, (at_s,), end_s, "next", f0_hz, note, None, ()))
        at_s = end_s
    audio = Audio(Path("v.wav"), np.concatenate(parts)[np.newaxis], RATE_HZ, "PCM_24", "")
    take = Take("s", "v", ("magnetic",), audio, (Quiet(0.0, QUIET_S),), tuple(plucks))
    together = measure_take(take, file="v.wav")
    assert [row.subject.pluck for row in together.plucks] == [1, 2, 3, 4, 5, 6]
    assert list(together.partials) == [(1, number) for number in range(1, 7)]
    for row in together.plucks:
        (pluck,) = (each for each in plucks if each.number == row.subject.pluck)
        alone = measure_take(replace(take, plucks=(pluck,)), file="v.wav").plucks[0]
        assert alone.quantities.keys() == row.quantities.keys()
        for name, measured in alone.quantities.items():
            known = measured.value is not None
            wanted = pytest.approx(measured.value, rel=1e-6, abs=1e-9) if known else None
            assert row.value(name) == wanted, name
        assert flags_cell(row.flags) == flags_cell(alone.flags)
