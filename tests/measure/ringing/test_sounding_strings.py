"""Rows of plucks with open strings woken through the bridge, and of real takes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pluck_truth import partials, series, signal
from takes_truth import load

from tonecompare import strings as st
from tonecompare.measure.flags import flags_cell
from tonecompare.measure.measured import Measured
from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.ringing.narrow_lines import BEFORE_S, ring_frame
from tonecompare.measure.ringing.shared_partials import keep_apart
from tonecompare.measure.ringing.sounding_strings import with_sounding_strings
from tonecompare.measure.single_pluck import measure_pluck
from tonecompare.measure.table import MeasuredSubject, Subject
from tonecompare.measure.take import measure_take
from tonecompare.measure.voice import VoicePluck
from tonecompare.strings.sympathetic import render_sympathy

TUNING = ("E2", "A2", "D3", "G3", "B3", "E4")
GUITAR = st.standard_instrument()
CHANNEL = st.Channel("magnetic", st.single_coil(90.0))
RATE_HZ = 48000.0
N = round(4.6 * RATE_HZ)


def voice_pluck(string: int, *, held: tuple[int, ...], cents: float = 0.0) -> VoicePluck:
    """One pluck of an open string at 60 dB; strings that are not held ring in sympathy."""
    spec = [st.PluckSpec(0.1, string, position_mm=130.0, angle_deg=20.0, detune_cents=cents)]
    rendered = st.render_recording(
        GUITAR, st.VoiceSpec("v", (CHANNEL,)), spec, rng=np.random.default_rng(string),
        rate_hz=RATE_HZ, length_s=N / RATE_HZ, subtype="FLOAT",
    )  # fmt: skip
    woken = render_sympathy(
        GUITAR, CHANNEL, spec, mobility_s_per_kg=1e-3, rate_hz=RATE_HZ, n=N, held=held
    )
    x = rendered.samples[0] + sum((w.forced + w.free for w in woken), np.zeros(N))
    truth = rendered.truth.plucks[0]
    pluck = signal(x[round(truth.onset_s * RATE_HZ) :], truth.f0_hz, snr_db=60.0)
    result = measure_pluck(pluck, note=truth.note)
    ring_s = Measured(pluck.ring_s, "s")
    entry = MeasuredSubject(
        Subject("plucks", "s", "v", note=truth.note, string=string),
        {"ring_s": ring_s, **result.quantities},
    )
    quiet = np.random.default_rng(3).normal(0.0, 1e-6, round(BEFORE_S * RATE_HZ))
    return VoicePluck(entry, result.partials, ring_frame(pluck, quiet), pluck.noise)


def test_partial_shared_with_an_open_string_keeps_its_own_decay() -> None:
    """B3, 8 cents sharp, lies 0.7 Hz above partial 3 of E2; truth is B3 with E2 held."""
    others = (1, 3, 4, 5)
    alone = voice_pluck(2, held=(*others, 6), cents=8.0)
    low = [voice_pluck(6, held=(1, 2, 3, 4, 5)) for _ in range(2)]
    both = [voice_pluck(2, held=others, cents=8.0) for _ in range(2)]
    true_s = alone.measured.value("decay_h01_s")
    raw = both[0].measured.value("decay_h01_s")
    assert true_s is not None
    assert raw is not None
    assert abs(raw / true_s - 1.0) > 0.04  # what the string does to it if nothing is done
    found = with_sounding_strings([*low, *both], tuning=TUNING, a4_hz=440.0)[2]
    assert both[0].measured.value("decay_h01_s") == raw
    row = found.cells()
    assert row["ring_along_string"] == 6
    assert "string 6 taken out of h01" in flags_cell(row["flags"])
    assert float(str(row["decay_h01_s"])) == pytest.approx(true_s, rel=0.02)
    true_db = float(str(alone.measured.value("h01_db")))
    assert abs(float(str(row["h01_db"])) - true_db) < 2.0 * float(str(row["h01_db_se"]))


def test_doubt_covers_what_cannot_be_kept_apart() -> None:
    """D3 partial 3 (440.5 Hz) beside A2 partial 4 (440.2 Hz), A2 known by its tuning only."""
    alone = voice_pluck(4, held=(1, 2, 3, 5, 6))
    both = voice_pluck(4, held=(1, 2, 3, 6))
    had = float(str(both.measured.uncertainty("decay_h03_s")))
    (found,) = with_sounding_strings([both], tuning=TUNING, a4_hz=440.0)
    row = found.cells()
    assert row["ring_along_string"] == 5
    assert "string 5 in h03" in flags_cell(row["flags"])
    spread = float(str(row["decay_h03_s_se"]))
    assert spread > 2.0 * had
    off = float(str(row["decay_h03_s"])) - float(str(alone.measured.value("decay_h03_s")))
    assert abs(off) < 2.0 * spread


def test_held_strings_change_nothing_and_the_limit_is_said() -> None:
    plucks = [voice_pluck(string, held=(1, 2, 3, 4, 5, 6)) for string in (5, 2)]
    entries = with_sounding_strings(plucks, tuning=TUNING, a4_hz=440.0)
    for entry, pluck in zip(entries, plucks, strict=True):
        assert entry.value("ring_along_db") is None
        assert "ring_along_db: none above -" in flags_cell(entry.flags)
        before = pluck.measured.quantities
        assert {name: entry.quantities[name] for name in before} == before


def test_real_open_string_beside_e2(recordings: Path) -> None:
    """Lines at 110 and 220 Hz stand in all four takes of E2: the open A string."""
    folder = recordings / "pickup-and-microphone/electric"
    levels = []
    for path in sorted(folder.glob("e2_vl4_*.flac")):
        takes, _ = load([path])
        result = measure_take(takes[0], file=path.name)
        (key,) = result.partials
        pluck = VoicePluck(result.plucks[0], result.partials[key], result.frames[key])
        (entry,) = with_sounding_strings([pluck], tuning=TUNING, a4_hz=440.0)
        assert entry.value("ring_along_string") == 5
        levels.append(float(str(entry.value("ring_along_db"))))
    assert len(levels) == 4
    assert np.ptp(levels) < 3.0


def test_the_open_string_is_left_out_even_where_it_is_the_second_strongest() -> None:
    """Closed form: 0.1 at 247.0 Hz and 0.003 at 247.1 Hz (7 s, 9 s), the string 0.01, 0.8 Hz up."""
    x = partials([247.0, 247.1, 247.8], [0.1, 0.003, 0.01], np.array([7.0, 9.0, 8.0]), seed=5)
    pluck = signal(x + series(494.0, n=3, gain=0.02), 247.0, snr_db=60.0)
    found_in = measure_partials(pluck)
    found = keep_apart(found_in, 0, 247.8, met_hz=0.15)
    assert found is not None
    assert found.string_share == pytest.approx(0.1, rel=0.1)
    assert found_in.bands is not None
    own_hz = found_in.bands.centre_hz[0] + found.rate.imag / (2.0 * np.pi)
    assert np.all(np.abs(own_hz - 247.8) > 0.3)
    assert 3.0 * np.log(10.0) / -found.rate[0].real == pytest.approx(7.0, rel=0.03)
