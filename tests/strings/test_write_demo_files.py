"""The demo session: the committed recordings are what the model makes, and the texts are true."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from tonecompare import strings as st
from tonecompare.errors import InputError
from tonecompare.session import load_session
from tonecompare.strings.demo_session import scenario
from tonecompare.strings.demo_session.scenario_text import README, SESSION_TOML
from tonecompare.strings.demo_session.write_demo_files import render_demo_recording, write_demo

COMMITTED = Path(__file__).resolve().parents[2] / "recordings_demo"


def recording(file):
    return next(r for r in scenario.demo_recordings() if r.file == file)


@pytest.mark.parametrize("file", [
    "heron-stock/bridge.flac", "heron-piezo/bridge-and-piezo.flac", "tern-light/neck.flac",
    "tern-full/piezo.flac",
])  # fmt: skip
def test_committed_recordings_are_what_the_model_makes(file):
    committed, rate = soundfile.read(COMMITTED / file, dtype="int16", always_2d=True)
    rendered = render_demo_recording(recording(file))
    assert rate == rendered.rate_hz
    samples = np.round(rendered.samples.T * 32768)
    # Another processor's linear algebra may round differently: single samples off by one step.
    assert np.max(np.abs(samples - committed)) <= 1
    assert np.mean(samples != committed) < 1e-3


def test_committed_folder_holds_exactly_the_demo_and_is_small():
    files = {p.relative_to(COMMITTED).as_posix() for p in COMMITTED.rglob("*") if p.is_file()}
    assert files == {r.file for r in scenario.demo_recordings()} | {"README.md", "session.toml"}
    assert sum((COMMITTED / file).stat().st_size for file in files) <= 24e6
    assert (COMMITTED / "README.md").read_text(encoding="utf-8") == README
    assert (COMMITTED / "session.toml").read_text(encoding="utf-8") == SESSION_TOML


def test_session_reads_without_complaint():
    session = load_session(COMMITTED)
    assert not session.left_out
    found = {(r.stage, r.voice) for r in session.recordings}
    assert found == {(r.stage, r.voice.name) for r in scenario.demo_recordings()}
    assert session.voice("bridge-and-piezo").outputs == ("magnetic", "piezo")
    assert session.voice("blend").outputs == ("blend",)
    assert session.comparisons[0].control_after == "plover-second"
    for stage in session.stages.values():
        assert session.instrument_of(stage.name).scale_length_mm in (628, 635, 648)
    assert session.sisters("tern-stock", "tern-light")
    assert session.sisters("tern-stock", "tern-full")
    assert not session.sisters("heron-stock", "tern-stock")
    costs = {
        name: (sum(w.parts_cost for w in stage.work), sum(w.hours for w in stage.work))
        for name, stage in session.stages.items()
    }
    assert costs["tern-stock"] == (0, 0)
    assert 0 < costs["tern-light"][0] < costs["tern-full"][0]
    assert "synthetic" in session.title


def test_readme_tells_the_truth():
    for file, khz in (("heron-stock/bridge.flac", 3.37), ("heron-rewound/bridge.flac", 2.70)):
        magnetic = recording(file).voice.channels[0].magnetic
        assert st.resonance(magnetic.circuit)[0] / 1000 == pytest.approx(khz, abs=0.005)
    assert "from 3.37 to 2.70 kHz" in README
    stock, rewound = (
        recording(f"heron-{stage}/bridge.flac").voice.channels[0].magnetic
        for stage in ("stock", "rewound")
    )
    for pickup, mismatch in ((stock, 0.08), (rewound, 0.04)):
        a, b = (abs(coil.hum) for coil in pickup.coils)
        assert (a - b) / ((a + b) / 2) == pytest.approx(mismatch)
    assert "coil mismatch 8 % becomes 4 %" in README
    means = [np.mean([coil.sensitivity for coil in p.coils]) for p in (stock, rewound)]
    assert 20 * np.log10(means[1] / means[0]) == pytest.approx(3.0)
    piezo = recording("heron-piezo/bridge-and-piezo.flac").voice.channels[1]
    assert (piezo.delay_us, piezo.polarity) == (350.0, -1)
    assert recording("heron-piezo/blend.flac").voice.channels[0].ratio == 0.4
    for stage, position_mm in (("heron-stock", 120), ("heron-rewound", 132)):
        plucks = recording(f"{stage}/neck.flac").plucks
        assert np.mean([p.position_mm for p in plucks]) == pytest.approx(position_mm, abs=2)
    for a, b in (("stock", "rewound"), ("stock", "piezo")):
        before, after = (recording(f"heron-{s}/bridge.flac").voice.channels[0] for s in (a, b))
        assert after.gain_db - before.gain_db == 1.0


def test_readme_tells_the_truth_of_the_sisters():
    mean = {}
    for stage in ("stock", "light", "full"):
        for voice in ("bridge", "neck"):
            made = recording(f"tern-{stage}/{voice}.flac")
            pickup = made.voice.channels[0].magnetic
            mean[stage, voice] = np.mean([coil.sensitivity for coil in pickup.coils])
            near, far = pickup.coils
            middle = (near.distance_mm + far.distance_mm) / 2
            assert middle == {"bridge": 45, "neck": 152}[voice]
            mismatch = (abs(near.hum) - abs(far.hum)) / (abs(near.hum) + abs(far.hum)) * 2
            assert mismatch == pytest.approx(0.03 if stage == "full" else 0.06)
            assert pickup.circuit.load_ohm == (330e3 if stage == "light" else 180e3)
            assert made.voice.channels[0].gain_db == 0.0
    ratios = {key: 20 * np.log10(value / mean["stock", key[1]]) for key, value in mean.items()}
    assert ratios["light", "bridge"] == pytest.approx(0.4)
    assert ratios["light", "neck"] == pytest.approx(0.4)
    assert "born 0.4 dB louder" in README
    # Born 0.3 dB softer, and 6 dB and 2.5 dB more by the new pickups.
    assert ratios["full", "bridge"] == pytest.approx(5.7)
    assert ratios["full", "neck"] == pytest.approx(2.2)
    assert "6 dB (bridge) and 2.5 dB (neck) more" in README
    losses = {
        stage: np.array(
            [s.damping for s in recording(f"tern-{stage}/bridge.flac").instrument.strings]
        )
        for stage in ("stock", "light", "full")
    }
    np.testing.assert_allclose(losses["light"] / losses["stock"], 1.04)
    np.testing.assert_allclose(losses["full"] / losses["stock"], 0.97)
    buzz = {
        stage: np.array(recording(f"tern-{stage}/bridge.flac").noise[0].line_dbfs[10:])
        for stage in ("stock", "light", "full")
    }
    np.testing.assert_allclose(buzz["light"] - buzz["stock"], -9.0)
    np.testing.assert_allclose(buzz["full"] - buzz["stock"], -9.0)
    (coil,) = recording("tern-full/bridge-split.flac").voice.channels[0].magnetic.coils
    assert coil.distance_mm == 54.0
    plucks = recording("tern-full/piezo.flac").plucks
    assert len(plucks) == 3 * 6


def test_same_samples_every_time():
    first, again = (render_demo_recording(recording("plover-first/neck.flac")) for _ in range(2))
    np.testing.assert_array_equal(first.samples, again.samples)


def test_writing_the_demo(tmp_path, monkeypatch):
    short = tuple(r for r in scenario.demo_recordings() if r.voice.name == "blend")
    monkeypatch.setattr(
        "tonecompare.strings.demo_session.write_demo_files.demo_recordings", lambda: short
    )
    seen = []
    write_demo(tmp_path / "demo", progress=lambda *args: seen.append(args))
    write_demo(tmp_path / "demo")
    assert seen == [(1, 1, "heron-piezo/blend.flac")]
    written = (tmp_path / "demo" / "heron-piezo" / "blend.flac").read_bytes()
    write_demo(tmp_path / "again")
    assert (tmp_path / "again" / "heron-piezo" / "blend.flac").read_bytes() == written


def test_another_session_is_not_overwritten(tmp_path):
    (tmp_path / "session.toml").write_text('title = "mine"\n')
    with pytest.raises(InputError, match="another session"):
        write_demo(tmp_path)
    assert (tmp_path / "session.toml").read_text() == 'title = "mine"\n'


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "demo").write_text("")
    with pytest.raises(InputError, match="cannot be written"):
        write_demo(tmp_path / "demo")
