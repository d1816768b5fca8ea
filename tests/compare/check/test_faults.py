"""Every check is shown on a take that has exactly that fault, and is silent on clean ones.

Takes come from the string model; each fault is put in by arithmetic that stands in the test.
"""

from __future__ import annotations

from pathlib import Path

import check_takes as takes
import numpy as np
import pytest
import soundfile as sf
from scipy.signal import lfilter, resample_poly

RATE = round(takes.RATE_HZ)


def ratio(db: float) -> float:
    return 10.0 ** (db / 20.0)


def two_voices(root: Path, *, bridge=None, neck=None, stage: str = "stock") -> Path:
    """Write a stage of two voices, clean where nothing else is given."""
    takes.write(root / stage / "bridge.wav", takes.take() if bridge is None else bridge)
    takes.write(root / stage / "neck.wav", takes.take("neck", seed=2) if neck is None else neck)
    return root


def one_voice(root: Path, samples: np.ndarray) -> Path:
    """Write a stage of one voice."""
    takes.write(root / "stock" / "bridge.wav", samples)
    return root


def kinds(root: Path) -> set[tuple[str, str, str]]:
    """Return (kind, severity, voice) of every fault."""
    return {(fault.kind, fault.severity, fault.voice) for fault in takes.faults(root)}


def the_only_fault(root: Path):
    found = takes.faults(root)
    assert len(found) == 1, [(f.kind, f.voice, f.data) for f in found]
    return found[0]


def test_clean_takes_have_no_fault(tmp_path):
    two_voices(tmp_path)
    two_voices(
        tmp_path, bridge=takes.take(seed=11), neck=takes.take("neck", seed=12), stage="after"
    )
    result = takes.check(tmp_path)
    assert [(one.answer, one.faults, one.again) for one in result.stages] == [("go", (), ())] * 2
    assert [one.n_plucks for one in result.stages] == [12, 12]


def test_clipping(tmp_path):
    samples = np.clip(takes.take() * 2.0, -1.0, 1.0)
    found = [f for f in takes.faults(one_voice(tmp_path, samples)) if f.kind == "clipping"]
    assert [(f.severity, f.voice, f.file) for f in found] == [
        ("again", "bridge", "stock/bridge.wav")
    ]
    first = np.flatnonzero(np.abs(takes.take() * 2.0) >= 1.0)[0] / RATE
    assert found[0].time_s == pytest.approx(first, abs=0.002)
    assert 1 in found[0].plucks
    assert found[0].data[0] == pytest.approx(0.0, abs=0.05)


def test_peaks_between_the_samples(tmp_path):
    # sin(pi n/2 + pi/4) has samples of ±0.7071 and a peak of 1: 3.01 dB between the samples.
    samples = takes.take() * 0.4
    start = round((takes.onset_s(1) + 0.3) * RATE)
    n = np.arange(round(0.05 * RATE))
    rise = np.sin(np.pi * n / n[-1]) ** 2
    samples = samples.copy()
    samples[start : start + n.size] += 1.25 * rise * np.sin(np.pi * n / 2.0 + np.pi / 4.0)
    assert np.abs(samples).max() < 1.0
    found = [f for f in takes.faults(one_voice(tmp_path, samples)) if "inter" in f.kind]
    assert [(f.severity, f.voice) for f in found] == [("note", "bridge")]
    assert found[0].time_s == pytest.approx((start + n.size / 2) / RATE, abs=0.02)


def test_too_quiet(tmp_path):
    # The peak of the take is below full scale; 40 dB down it is below -40 dBFS.
    fault = the_only_fault(two_voices(tmp_path, neck=takes.take("neck", seed=2) * 0.01))
    assert (fault.kind, fault.severity, fault.voice) == ("too quiet", "again", "neck")


def test_no_quiet(tmp_path):
    start, stop = round((takes.QUIET_S - 0.03) * RATE), round((takes.onset_s(6) - 0.15) * RATE)
    fault = the_only_fault(one_voice(tmp_path, takes.take()[start:stop]))
    assert (fault.kind, fault.severity, fault.voice) == ("no quiet", "again", "bridge")


def test_offset(tmp_path):
    fault = the_only_fault(one_voice(tmp_path, takes.take() + 0.01))
    assert (fault.kind, fault.severity) == ("DC offset", "note")
    # The take itself sits at -0.0001 or so.
    assert fault.data == (pytest.approx(1.0, abs=0.015),)


def test_digital_silence(tmp_path):
    samples = takes.take().copy()
    samples[: RATE // 3] = 0.0
    found = kinds(one_voice(tmp_path, samples))
    assert ("digital silence", "again", "bridge") in found


def test_out_of_tune(tmp_path):
    fault = the_only_fault(one_voice(tmp_path, takes.take(detune_cents=-40.0)))
    assert (fault.kind, fault.severity, fault.voice) == ("out of tune", "again", "bridge")
    means, plucks, allowed = fault.data
    assert dict(means)["A2"] == pytest.approx(-40.0, abs=1.5)
    assert (plucks, allowed) == (6, 25.0)
    assert fault.time_s == pytest.approx(takes.onset_s(0), abs=0.02)


def _glided(samples, cents, *, glide_per_s):
    """Play time faster by a glide that starts anew at each onset of a take and dies down."""
    n = np.arange(samples.size) / RATE
    since = np.full(n.size, np.inf)
    for k in range(6):
        since = np.where(n >= takes.onset_s(k), n - takes.onset_s(k), since)
    ratio = 2.0 ** (cents * np.exp(-glide_per_s * since) / 1200.0)
    at = np.cumsum(ratio) / RATE
    return np.interp(at[at < n[-1]], n, samples)


def test_sharp_because_picked_hard_is_not_out_of_tune(tmp_path):
    # f rises with the square of a swing that falls by 17 dB/s: exp(-4 t); over the first half
    # second that is 22 of 60 cents, 34 with the tuning's 12.
    hard = _glided(takes.take(detune_cents=12.0), 60.0, glide_per_s=4.0)
    assert "out of tune" not in {k for k, *_ in kinds(one_voice(tmp_path, hard))}


def test_a_sharp_pluck_of_a_note_whose_soft_plucks_are_in_tune_was_picked_hard(tmp_path):
    # Damped after half a second, too soon for the late pitch: the soft plucks tell.
    short = {"repeats": 2, "damp_before_s": takes.SPACING_S - 0.5}
    soft = takes.take(**short, seed=4, strength_db=-10.0)
    sharp = takes.take(**short, detune_cents=35.0)
    both = np.concatenate([soft, sharp[round(0.8 * RATE) :]])
    assert "out of tune" not in {k for k, *_ in kinds(one_voice(tmp_path / "a", both))}
    # The other way round it is the tuning.
    soft = takes.take(**short, seed=4, strength_db=-10.0, detune_cents=35.0)
    both = np.concatenate([soft, takes.take(**short)[round(0.8 * RATE) :]])
    assert "out of tune" in {k for k, *_ in kinds(one_voice(tmp_path / "b", both))}


def test_file_named_for_another_note(tmp_path):
    two_voices(tmp_path)
    one = takes.take(notes=((5, 0),), repeats=2, seed=3)
    (tmp_path / "stock" / "bridge.wav").unlink()
    takes.write(tmp_path / "stock" / "bridge" / "A2.1.wav", one)
    other = takes.take(notes=((3, 0),), repeats=2, seed=4)
    takes.write(tmp_path / "stock" / "bridge" / "E2.1.wav", other)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.file) == (
        "wrong note",
        "again",
        "stock/bridge/E2.1.wav",
    )
    assert fault.data == ("named", "G3")


PLAN = '[plan]\nnotes = ["A2", "G3"]\nrepeats = 3\n'


def test_missing_notes(tmp_path):
    two_voices(tmp_path, neck=takes.take("neck", notes=((5, 0),), seed=5))
    fault = the_only_fault(tmp_path)  # against the other voice
    assert (fault.kind, fault.severity, fault.voice) == ("missing notes", "again", "neck")
    assert fault.data == (("G3",), False)
    (tmp_path / "session.toml").write_text(PLAN)
    assert the_only_fault(tmp_path).data == (("G3",), True)


def test_no_plucks(tmp_path):
    two_voices(tmp_path)
    hiss = 1e-4 * np.random.default_rng(3).standard_normal(3 * RATE)
    takes.write(tmp_path / "stock" / "middle.wav", hiss)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.voice) == ("no plucks", "again", "middle")
    # Hands on and off the strings are quiet alone, as README asks for them.
    (tmp_path / "stock" / "middle.wav").rename(tmp_path / "stock" / "neck-hands-on.wav")
    (tmp_path / "session.toml").write_text(PLAN)
    assert takes.faults(tmp_path) == []


def test_nothing_but_quiet(tmp_path):
    hiss = 1e-4 * np.random.default_rng(3).standard_normal(3 * RATE)
    fault = the_only_fault(one_voice(tmp_path, hiss))
    assert (fault.kind, fault.severity, fault.voice) == ("no plucks", "again", "bridge")


def test_missing_repeats(tmp_path):
    two_voices(tmp_path, neck=takes.take("neck", repeats=2, seed=5))
    (tmp_path / "session.toml").write_text(PLAN)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.voice) == ("missing repeats", "doubt", "neck")
    assert fault.data == ("planned", (("A2", 2, 3), ("G3", 2, 3)))


def test_wrong_fret(tmp_path):
    notes = ((5, 0), (3, 0))
    slip = takes.take(notes=((5, 1),), repeats=1, seed=6)[round(0.9 * RATE) : round(2.6 * RATE)]
    good = takes.take(notes=notes, seed=1)
    one_voice(tmp_path, np.concatenate([good, slip]))
    (tmp_path / "session.toml").write_text(PLAN)
    fault = next(f for f in takes.faults(tmp_path) if f.kind == "wrong note")
    assert [note for note, _ in fault.data[1]] == ["A#2"]
    assert fault.plucks == (7,)


def test_damped_too_early(tmp_path):
    # 0.2 s of each note are left; with T60 of seconds it falls by a few dB in that time.
    short = takes.take("neck", damp_before_s=takes.SPACING_S - 0.2, seed=2)
    found = kinds(two_voices(tmp_path, neck=short))
    assert ("cut short", "again", "neck") in found
    assert all(voice == "neck" for _, _, voice in found)


def test_fade(tmp_path):
    samples = takes.take()[: round((takes.onset_s(6) - 0.3) * RATE)].copy()
    n = round(0.8 * RATE)
    samples[-n:] *= np.linspace(1.0, 0.0, n)
    found = kinds(one_voice(tmp_path, samples))
    assert ("fade", "doubt", "bridge") in found
    assert all(voice == "bridge" for _, _, voice in found)


def test_low_pass_of_a_codec(tmp_path):
    spectrum = np.fft.rfft(takes.take())
    spectrum[np.fft.rfftfreq(takes.take().size, 1.0 / RATE) > 16_000.0] = 0.0
    fault = the_only_fault(one_voice(tmp_path, np.fft.irfft(spectrum, takes.take().size)))
    assert (fault.kind, fault.severity, fault.voice) == ("lossy codec", "again", "bridge")
    assert fault.data == ("edge", pytest.approx(16_000.0, abs=400.0))


def test_hole_of_noise_removal(tmp_path):
    spectrum = np.fft.rfft(takes.take())
    hz = np.fft.rfftfreq(takes.take().size, 1.0 / RATE)
    spectrum[(hz > 8000.0) & (hz < 9500.0)] = 0.0
    fault = the_only_fault(one_voice(tmp_path, np.fft.irfft(spectrum, takes.take().size)))
    assert (fault.kind, fault.severity) == ("noise removal", "again")
    assert fault.data == (pytest.approx(7900.0, abs=150.0),)


def test_lossy_file(tmp_path):
    two_voices(tmp_path)
    (tmp_path / "stock" / "bridge.wav").unlink()
    takes.write(tmp_path / "stock" / "bridge.ogg", takes.take(), subtype="VORBIS")
    assert ("lossy codec", "again", "bridge") in kinds(tmp_path)


def compressed(
    samples: np.ndarray, *, ratio_to_one: float, threshold: float, release_s: float = 0.15
) -> np.ndarray:
    """A feed-forward compressor: gain (level/threshold)^(1/r - 1) above the threshold."""
    decay = np.exp(-1.0 / (release_s * RATE))
    level = np.abs(samples)
    # Maximum of the decaying memory of all earlier peaks, by blocks of 32 samples.
    blocks = level[: level.size // 32 * 32].reshape(-1, 32).max(axis=1)
    follower, state = np.empty_like(blocks), 0.0
    for i, peak in enumerate(blocks):
        state = max(peak, state * decay**32)
        follower[i] = state
    follower = np.repeat(follower, 32)
    gain = np.maximum(follower / threshold, 1.0) ** (1.0 / ratio_to_one - 1.0)
    return samples[: gain.size] * lfilter([0.01], [1.0, -0.99], gain)


def test_compression(tmp_path):
    squeezed = compressed(takes.take(), ratio_to_one=4.0, threshold=0.03) * 2.0
    found = takes.faults(one_voice(tmp_path, squeezed))
    signs = [f for f in found if f.kind == "processing"]
    assert [(f.voice, f.severity) for f in signs] == [("bridge", "again")]
    lower_db, early_over_later = signs[0].data
    assert lower_db > 1.0
    assert early_over_later > 1.2


@pytest.mark.parametrize(("ratio_to_one", "release_s"), [(2.0, 1.0), (3.0, 1.5)])
def test_gentle_slow_compression(tmp_path, ratio_to_one, release_s):
    # Four decibels are taken off the peaks: x (1 - 1/r) = 4 dB above the threshold.
    over = ratio(4.0 / (1.0 - 1.0 / ratio_to_one))
    threshold = float(np.abs(takes.take()).max()) / over
    squeezed = compressed(
        takes.take(), ratio_to_one=ratio_to_one, threshold=threshold, release_s=release_s
    )
    fault = the_only_fault(one_voice(tmp_path, squeezed))
    assert (fault.kind, fault.severity, fault.voice) == ("processing", "doubt", "bridge")
    lower_db, early_over_later = fault.data
    assert lower_db > 1.0
    assert early_over_later is None


def test_short_faded_notes_are_not_called_compressed(tmp_path):
    samples = takes.take()
    length = round(0.8 * RATE)
    for k in range(6):
        start = round((takes.onset_s(k) - 0.005) * RATE)
        note = samples[start : start + length]
        fade = np.cos(np.linspace(0.0, np.pi / 2.0, note.size)) ** 2
        takes.write(tmp_path / "stock" / "bridge" / f"note.{k}.wav", note * fade)
    assert "processing" not in {fault.kind for fault in takes.faults(tmp_path)}


@pytest.mark.parametrize("peak_db", [-40.0, -45.0, -60.0])
def test_rounding_of_a_quiet_16_bit_file_is_no_processing_and_no_gain(tmp_path, peak_db):
    samples = takes.take()
    faint = samples / np.abs(samples).max() * ratio(peak_db)
    path = tmp_path / "stock" / "bridge.wav"
    path.parent.mkdir()
    sf.write(path, faint, int(RATE), subtype="PCM_16")
    found = {kind for kind, _, _ in kinds(tmp_path)}
    assert "too quiet" in found
    assert not found & {"processing", "gain moved", "clipping"}


def test_gain_turned_down_is_not_called_compression(tmp_path):
    halves = [takes.take(seed=1), takes.take(seed=8)[round(0.9 * RATE) :] * ratio(-5.0)]
    found = kinds(one_voice(tmp_path, np.concatenate(halves)))
    assert ("gain moved", "again", "bridge") in found
    assert "processing" not in {kind for kind, _, _ in found}


def test_distortion_of_an_amplifier_model(tmp_path):
    loud = np.tanh(takes.take() * 30.0) * 0.5
    found = takes.faults(one_voice(tmp_path, loud))
    signs = [f for f in found if f.kind == "processing"]
    assert [f.voice for f in signs] == ["bridge"]
    assert signs[0].data[1] > 1.2


def test_gain_moved_before_the_repeat_of_a_voice(tmp_path):
    two_voices(tmp_path)
    again = takes.take(seed=7) * ratio(-4.0)
    takes.write(tmp_path / "stock" / "bridge-again.wav", again)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.voice) == ("gain moved", "again", "bridge-again")
    assert fault.data[:3] == ("recordings", "stock", "bridge")
    assert fault.data[3:] == pytest.approx((-4.0, -4.0), abs=0.5)


def test_gain_is_told_before_hum_and_hum_without_the_gain(tmp_path):
    # 12 dB more gain on the neck: its hum stands 12 dB above the first stage's, but not by itself.
    soft = takes.take("neck", hum_dbfs=-60.0) * ratio(-12.0)
    two_voices(tmp_path, bridge=takes.take(hum_dbfs=-70.0), neck=soft)
    loud = takes.take("neck", seed=12, hum_dbfs=-60.0)
    hums = takes.take(seed=11, hum_dbfs=-45.0)
    two_voices(tmp_path, bridge=hums, neck=loud, stage="after")
    after = takes.check(tmp_path).stages[1]
    told = [(fault.kind, fault.voice) for fault in after.faults if fault.severity == "doubt"]
    assert told == [("gain moved", "neck"), ("hum", "bridge")]


def test_gain_moved_between_stages(tmp_path):
    two_voices(tmp_path)
    bridge, neck = takes.take(seed=11) * ratio(-3.0), takes.take("neck", seed=12) * ratio(-3.0)
    two_voices(tmp_path, bridge=bridge, neck=neck, stage="zafter")
    assert kinds(tmp_path) == {("gain moved", "doubt", "bridge"), ("gain moved", "doubt", "neck")}


@pytest.mark.parametrize("hiss_moved_db", [0.0, 2.0])
def test_a_hotter_pickup_is_no_moved_gain(tmp_path, hiss_moved_db):
    # Level 4 dB up, the hiss where it was or a little up: what work on a pickup does.
    hiss_dbfs = -84.0 + hiss_moved_db
    hot = takes.take(seed=11, hiss_dbfs=hiss_dbfs, hum_dbfs=-79.0) * ratio(4.0) * 0.7
    takes.write(tmp_path / "stock" / "bridge.wav", takes.take() * 0.7)
    takes.write(tmp_path / "zafter" / "bridge.wav", hot)
    assert "gain moved" not in {kind for kind, _, _ in kinds(tmp_path)}


def test_gain_turned_during_a_recording(tmp_path):
    halves = [takes.take(seed=1) * 0.5, takes.take(seed=8) * 0.5 * ratio(5.0)]
    found = takes.faults(one_voice(tmp_path, np.concatenate(halves)))
    moved = next(f for f in found if f.kind == "gain moved")
    assert (moved.severity, moved.voice) == ("again", "bridge")
    assert moved.time_s == pytest.approx(halves[0].size / RATE + takes.QUIET_S, abs=0.2)


def test_unequal_rates(tmp_path):
    two_voices(tmp_path)
    takes.write(tmp_path / "stock" / "middle.wav", takes.take(seed=9, strength_db=-6.0))
    resampled = resample_poly(takes.take("neck", seed=2), 160, 147)
    takes.write(tmp_path / "stock" / "neck.wav", resampled, rate_hz=48_000)
    found = {f for f in kinds(tmp_path) if f[0] == "sample rate differs"}
    assert found == {("sample rate differs", "doubt", "neck")}


def test_hum_far_above_the_other_takes(tmp_path):
    two_voices(tmp_path)
    loud = takes.take("neck", seed=12, hum_dbfs=-50.0)
    two_voices(tmp_path, bridge=takes.take(seed=11), neck=loud, stage="zafter")
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.stage, fault.voice) == (
        "hum", "doubt", "zafter", "neck",
    )  # fmt: skip
    assert fault.data == pytest.approx((-50.0, 25.0, True), abs=0.5)


def test_one_file_under_two_names(tmp_path):
    two_voices(tmp_path, neck=takes.take())
    found = [f for f in takes.faults(tmp_path) if f.kind == "duplicate"]
    assert [(f.severity, f.voice) for f in found] == [("again", "bridge"), ("again", "neck")]
    assert found[0].data == ("bytes", ("stock/bridge.wav", "stock/neck.wav"))


def test_one_recording_in_two_formats(tmp_path):
    two_voices(tmp_path)
    same, _ = sf.read(tmp_path / "stock" / "bridge.wav")
    takes.write(tmp_path / "stock" / "neck.flac", same)
    (tmp_path / "stock" / "neck.wav").unlink()
    found = [f for f in takes.faults(tmp_path) if f.kind == "duplicate"]
    assert len(found) == 2
    assert found[0].data == ("samples", ("stock/bridge.wav", "stock/neck.flac"))


def test_one_performance_with_another_gain(tmp_path):
    found = takes.faults(two_voices(tmp_path, neck=takes.take() * ratio(-2.0)))
    doubles = [f for f in found if f.kind == "duplicate"]
    assert len(doubles) == 2
    names = ("stock/bridge.wav", "stock/neck.wav")
    assert doubles[0].data == ("performance", names, pytest.approx(-2.0, abs=0.05))


def test_swapped_files(tmp_path):
    two_voices(tmp_path)
    two_voices(
        tmp_path, bridge=takes.take("neck", seed=12), neck=takes.take(seed=11), stage="zafter"
    )
    swapped = [f for f in takes.faults(tmp_path) if f.kind == "wrong voice"]
    assert {(f.stage, f.voice, f.severity) for f in swapped} >= {
        ("zafter", "bridge", "again"),
        ("zafter", "neck", "again"),
    }


def test_two_voices_that_sound_alike(tmp_path):
    fault = the_only_fault(two_voices(tmp_path, neck=takes.take(seed=11)))
    assert (fault.kind, fault.severity, fault.voice) == ("voices alike", "doubt", "neck")


def test_outlier_pluck(tmp_path):
    samples = takes.take().copy()
    first, last = (round((takes.onset_s(i) - 0.02) * RATE) for i in (1, 2))
    samples[first:last] *= ratio(-7.0)
    found = [f for f in takes.faults(one_voice(tmp_path, samples)) if f.kind == "outlier"]
    assert [(f.severity, f.voice, f.plucks) for f in found] == [("doubt", "bridge", (2,))]
    note, distances, only_mix = found[0].data
    assert (note, only_mix) == ("A2", False)
    assert dict(distances)["level_dbfs"] == pytest.approx(-7.0, abs=0.9)
    assert found[0].time_s == pytest.approx(takes.onset_s(1), abs=0.02)


def test_an_outlier_of_two_channels_names_each_quantity_once(tmp_path):
    samples = takes.take().copy()
    first, last = (round((takes.onset_s(i) - 0.02) * RATE) for i in (1, 2))
    samples[first:last] *= ratio(-7.0)
    hiss = 1e-4 * np.random.default_rng(3).standard_normal(samples.size)
    both = np.stack([samples, 2.5 * np.diff(samples, prepend=0.0) + hiss])
    (fault,) = [f for f in takes.faults(one_voice(tmp_path, both)) if f.kind == "outlier"]
    assert [quantity for quantity, _ in fault.data[1]] == ["level_dbfs"]
    assert fault.data[1][0][1] == pytest.approx(-7.0, abs=0.9)


def test_takes_csv_that_names_no_pluck(tmp_path):
    two_voices(tmp_path)
    (tmp_path / "stock" / "takes.csv").write_text(
        "file,pluck,use\nbridge.wav,2,no\nbridge.wav,40,no\n"
    )
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.voice) == ("takes.csv", "bridge")
    assert fault.data == ("bridge.wav", 40)


def test_files_that_cannot_be_used_are_to_be_recorded_again(tmp_path):
    two_voices(tmp_path)
    (tmp_path / "stock" / "middle.wav").write_text("notes of the day")
    (answer,) = takes.check(tmp_path).stages
    assert answer.answer == "no-go"
    assert answer.again == (("middle", "stock/middle.wav", "unusable"),)
    reason, of_file = answer.faults[0].data
    assert of_file
    assert reason.startswith("Is not audio")


def test_one_stage_alone_is_still_compared_with_the_others(tmp_path):
    two_voices(tmp_path)
    loud = takes.take("neck", seed=12, hum_dbfs=-50.0)
    two_voices(tmp_path, bridge=takes.take(seed=11), neck=loud, stage="zafter")
    (answer,) = takes.check(tmp_path, stage="zafter").stages
    assert (answer.stage, answer.answer) == ("zafter", "reservations")
    (clean,) = takes.check(tmp_path, stage="stock").stages
    assert clean.answer == "go"


def test_voices_that_are_missing(tmp_path):
    two_voices(tmp_path)
    takes.write(tmp_path / "rewound" / "bridge.wav", takes.take(seed=11))
    (tmp_path / "empty").mkdir()
    told = (
        '[instruments.heron]\n[stages.stock]\n[stages.rewound]\nfrom = "stock"\n'
        '[stages.empty]\nfrom = "rewound"\n'
    )
    (tmp_path / "session.toml").write_text(told)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.stage, fault.voice) == (
        "missing voice", "note", "rewound", "neck",
    )  # fmt: skip
    assert [one.stage for one in takes.check(tmp_path).stages] == ["stock", "rewound"]
    (tmp_path / "session.toml").write_text(told + PLAN + "[voices.bridge]\n[voices.neck]\n")
    assert the_only_fault(tmp_path).severity == "doubt"
    (empty,) = takes.check(tmp_path, stage="empty").stages
    assert (empty.answer, [f.kind for f in empty.faults]) == ("no-go", ["nothing recorded"])


AGAIN = '[instruments.heron]\n[stages.stock]\nagain = "bridge"\n'


def test_planned_repeat_that_is_missing(tmp_path):
    two_voices(tmp_path)
    (tmp_path / "session.toml").write_text(AGAIN)
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.voice) == ("drift unknown", "doubt", "bridge-again")
    assert fault.data == ("bridge",)
    takes.write(tmp_path / "stock" / "bridge-again.wav", takes.take(seed=7))
    (answer,) = takes.check(tmp_path).stages
    assert (answer.answer, answer.faults) == ("go", ())
    (held,) = answer.held
    assert held.voice == "bridge"
    columns = ["level_dbfs", "centroid_hz", "decay_s", "cents", "hum_dbfs"]
    assert sorted(one.quantity.column for one in held.drifts) == sorted(columns)
    assert not any(one.shown or one.beyond for one in held.drifts)


def test_a_stage_that_drifted(tmp_path):
    two_voices(tmp_path)
    # A hand 2 dB softer and strings 8 cents flat; hiss and hum as they were.
    takes.write(
        tmp_path / "stock" / "bridge-again.wav",
        takes.take(seed=7, strength_db=-2.0, detune_cents=-8.0),
    )
    fault = the_only_fault(tmp_path)
    assert (fault.kind, fault.severity, fault.voice) == ("drift", "doubt", "bridge-again")
    moved = {one.quantity.column: one.difference for one in fault.data}
    assert moved["level_dbfs"] == pytest.approx(-2.0, abs=1.0)
    assert moved["cents"] == pytest.approx(-8.0, abs=1.0)
    assert "hum_dbfs" not in moved
