"""load_takes: outputs, pooled quiet, corrections, files left out and problems said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from takes_truth import load, load_samples, session_of

from tonecompare.errors import SessionError
from tonecompare.session.model import Instrument, Stage, Voice
from tonecompare.takes.first_look import voice_outputs
from tonecompare.takes.judge_plucks import FLAG_SENTENCES

RATE_HZ = 44100


def notes(
    *frequencies_hz: float, quiet_s: float = 1.0, ring_s: float = 1.0, gain: float = 0.2
) -> np.ndarray:
    """Plain decaying notes after quiet, each stopped before the next."""
    rng = np.random.default_rng(1)
    t = np.arange(round(ring_s * RATE_HZ)) / RATE_HZ
    parts = [np.zeros(round(quiet_s * RATE_HZ))]
    for hz in frequencies_hz:
        wave = sum(np.cos(2 * np.pi * k * hz * t + k) / k for k in range(1, 15))
        parts += [gain * np.exp(-2 * t) * wave, np.zeros(round(0.4 * RATE_HZ))]
    x = np.concatenate(parts)
    return x + 1e-4 * rng.standard_normal(len(x))


def write(path: Path, samples: np.ndarray, *, rate_hz: int = RATE_HZ) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    sf.write(path, samples.T, rate_hz, subtype="PCM_24")
    return path


def test_a_plain_take(tmp_path: Path) -> None:
    take = load_samples(tmp_path, notes(82.41, 110.0, 146.83), rate_hz=RATE_HZ)
    assert [pluck.note for pluck in take.plucks] == ["E2", "A2", "D3"]
    assert [pluck.number for pluck in take.plucks] == [1, 2, 3]
    assert [pluck.ended_by for pluck in take.plucks] == ["damped"] * 3
    assert [pluck.onset_s for pluck in take.plucks] == pytest.approx([1.0, 2.4, 3.8], abs=2e-3)
    assert take.plucks[0].string == 6
    assert take.plucks[1].string is None
    assert take.problems == ()
    assert take.flags == ()
    assert take.outputs == ("magnetic",)
    assert (take.stage, take.voice) == ("s", "v")


def test_all_open_strings_are_numbered(tmp_path: Path) -> None:
    take = load_samples(tmp_path, notes(82.41, 110.0, 146.83, 196.0, 246.94), rate_hz=RATE_HZ)
    assert [pluck.string for pluck in take.plucks] == [6, 5, 4, 3, 2]


def test_tuning_of_the_instrument_counts(tmp_path: Path) -> None:
    session = session_of(
        tmp_path, instruments={"g": Instrument("g", tuning=("D2", "A2", "D3", "G3", "B3", "E4"))}
    )
    path = write(tmp_path / "v.wav", notes(73.416, 87.307))
    takes, _ = load([path], session=session)
    assert [(p.note, p.string) for p in takes[0].plucks] == [("D2", 6), ("F2", 6)]


def test_reference_pitch_counts(tmp_path: Path) -> None:
    """A quarter tone low is A2 or G#2 by A4: 107 Hz is 47.9 cents under A2 at 440 Hz."""
    path = write(tmp_path / "v.wav", notes(107.0))
    assert load([path])[0][0].plucks[0].note == "A2"
    takes, _ = load([path], session=session_of(tmp_path, a4_hz=450.0))
    assert takes[0].plucks[0].note == "G#2"


@pytest.mark.parametrize(
    ("voice", "mono", "stereo"),
    [
        ("neck", ("magnetic",), ("magnetic", "piezo")),
        ("Piezo", ("piezo",), ("magnetic", "piezo")),
        ("blend 50", ("blend",), ("magnetic", "piezo")),
    ],
)
def test_outputs_without_session_toml(
    tmp_path: Path, voice: str, mono: tuple[str, ...], stereo: tuple[str, ...]
) -> None:
    x = notes(110.0)
    one = write(tmp_path / "one.wav", x)
    two = write(tmp_path / "two.wav", np.stack([x, 0.5 * np.roll(x, 40)]))
    assert load([one], voice=voice)[0][0].outputs == mono
    assert load([two], voice=voice)[0][0].outputs == stereo


def test_outputs_of_session_toml(tmp_path: Path) -> None:
    session = session_of(tmp_path, voices={"v": Voice("v", outputs=("piezo", "magnetic"))})
    x = notes(110.0)
    path = write(tmp_path / "v.wav", np.stack([x, 0.5 * np.roll(x, 40)]))
    assert voice_outputs(session, "v") == ("piezo", "magnetic")
    assert load([path], session=session)[0][0].outputs == ("piezo", "magnetic")


@pytest.mark.parametrize("ending", ["-again", "-hands-on", "-hands-off"])
def test_a_voice_recorded_again_carries_what_the_voice_does(tmp_path: Path, ending: str) -> None:
    session = session_of(tmp_path, voices={"saddle": Voice("saddle", outputs=("piezo",))})
    assert voice_outputs(session, f"saddle{ending}") == ("piezo",)
    assert session.voice(f"saddle{ending}").outputs == ("piezo",)
    assert voice_outputs(session, "saddle-split") == ("magnetic",)


@pytest.mark.parametrize(("silent", "left"), [(0, "piezo"), (1, "magnetic")])
def test_the_channel_left_keeps_its_output(tmp_path: Path, silent: int, left: str) -> None:
    session = session_of(tmp_path, voices={"v": Voice("v", outputs=("magnetic", "piezo"))})
    pair = np.stack([notes(110.0), notes(110.0)])
    pair[silent] = 0.0
    path = write(tmp_path / "v.wav", pair)
    assert load([path], session=session)[0][0].outputs == (left,)
    assert load([path])[0][0].outputs == ("magnetic",)


def test_dual_mono_carries_one_output(tmp_path: Path) -> None:
    x = notes(110.0)
    take = load_samples(tmp_path, np.stack([x, x]), rate_hz=RATE_HZ)
    assert take.outputs == ("magnetic",)
    assert take.audio.samples.shape[0] == 1
    assert "dual-mono" in take.flags
    assert any("identical" in said for said in take.problems)


def test_unusable_files_are_named_and_the_rest_goes_on(tmp_path: Path) -> None:
    good = write(tmp_path / "v" / "b.wav", notes(110.0))
    (tmp_path / "v" / "a.wav").touch()
    (tmp_path / "v" / "c <1> “é”.wav").write_text("text")
    write(tmp_path / "v" / "d.wav", np.zeros(RATE_HZ))
    paths = [tmp_path / "v" / name for name in ("a.wav", "b.wav", "c <1> “é”.wav", "d.wav")]
    takes, left_out = load(paths, session=session_of(tmp_path))
    assert [take.audio.path for take in takes] == [good]
    assert [each.file for each in left_out] == ["v/a.wav", "v/c <1> “é”.wav", "v/d.wav"]
    assert left_out[0].reason.startswith("Is empty (0 bytes). Export")
    assert "holds text" in left_out[1].reason
    assert "silent" in left_out[2].reason
    assert all(each.reason.endswith(".") for each in left_out)


def test_quiet_alone_is_a_take_without_plucks(tmp_path: Path) -> None:
    take = load_samples(tmp_path, notes(quiet_s=2.0), rate_hz=RATE_HZ)
    assert take.plucks == ()
    assert take.quiets
    assert take.problems == ("No pluck was found; only the quiet is used.",)


def test_quiet_of_another_file_stands_in(tmp_path: Path) -> None:
    whole = notes(110.0)
    first = write(tmp_path / "v.1.wav", whole[RATE_HZ : 2 * RATE_HZ])
    second = write(tmp_path / "v.2.wav", whole)
    (alone,), _ = load([first])
    assert "no-quiet" in alone.plucks[0].flags
    assert "could not be measured" in alone.problems[-1]
    takes, _ = load([first, second])
    assert takes[0].quiets == ()
    assert "no-quiet" in takes[0].flags
    assert "no-quiet" not in takes[0].plucks[0].flags
    assert "that of another file of this recording was used" in takes[0].problems[-1]


def test_one_pluck_per_file_and_a_wrong_name(tmp_path: Path) -> None:
    paths = [write(tmp_path / "v" / f"{name}.1.wav", notes(82.41)) for name in ("E2", "F2")]
    takes, _ = load(paths, session=session_of(tmp_path))
    assert "misnamed" not in takes[0].plucks[0].flags
    assert takes[1].plucks[0].note == "E2"
    assert "misnamed" in takes[1].plucks[0].flags
    assert takes[1].problems == ("Named F2.1 but sounds E2.",)


def test_flat_names_are_no_mistake(tmp_path: Path) -> None:
    (take,), _ = load([write(tmp_path / "Eb2.wav", notes(77.78))])
    assert take.plucks[0].note == "D#2"
    assert take.problems == ()


def test_corrections_by_hand(tmp_path: Path) -> None:
    path = write(tmp_path / "neck.wav", notes(82.41, 110.0, 146.83))
    (tmp_path / "takes.csv").write_text(
        "file,pluck,onset_s,note,string,use\nneck.wav,1,,,,no\nneck.wav,2,2.395,G#2,5,yes\n"
    )
    (take,), _ = load([path])
    assert [pluck.number for pluck in take.plucks] == [2, 3]
    changed = take.plucks[0]
    assert (changed.note, changed.string) == ("G#2", 5)
    assert changed.onset_s == pytest.approx(2.395)
    assert "overridden" in changed.flags
    assert "overridden" not in take.plucks[1].flags


@pytest.mark.parametrize(("note", "true_hz"), [("E3", 164.82), ("E2", 82.41), ("A2", 110.0)])
def test_a_note_by_hand_brings_its_pitch(tmp_path: Path, note: str, true_hz: float) -> None:
    # Partials of 82.41 Hz (a third of them those of 164.82) and, softer, of 110 Hz in one sound.
    x = notes(82.41) + 0.4 * notes(110.0)
    path = write(tmp_path / "neck.wav", x)
    (tmp_path / "takes.csv").write_text(f"file,pluck,note\nneck.wav,1,{note}\n")
    (take,), _ = load([path])
    (pluck,) = take.plucks
    assert pluck.note == note
    assert pluck.f0_hz is not None
    assert 1200.0 * np.log2(pluck.f0_hz / true_hz) == pytest.approx(0.0, abs=5.0)
    assert not {"no-pitch", "ambiguous-pitch"} & set(pluck.flags)


def test_a_note_by_hand_for_a_sound_without_pitch(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    x = notes(146.83)
    start = round(1.0 * RATE_HZ)
    fade = np.exp(-np.arange(len(x) - start) / (0.4 * RATE_HZ))
    x[start:] = 0.3 * fade * rng.standard_normal(len(fade)) + 0.05 * x[start:]
    path = write(tmp_path / "neck.wav", x)
    (take,), _ = load([path])
    assert take.plucks[0].f0_hz is None
    (tmp_path / "takes.csv").write_text("file,pluck,note\nneck.wav,1,D3\n")
    (take,), _ = load([path])
    assert take.plucks[0].f0_hz == pytest.approx(146.83, rel=0.03)


@pytest.mark.parametrize("onset", ["0.9", "3.7", "12.0"])
def test_an_onset_outside_its_pluck_is_an_error(tmp_path: Path, onset: str) -> None:
    path = write(tmp_path / "neck.wav", notes(82.41, 110.0, 146.83))
    (tmp_path / "takes.csv").write_text(f"file,pluck,onset_s\nneck.wav,2,{onset}\n")
    with pytest.raises(SessionError, match=r"pluck 2 of neck\.wav: onset_s is .* is allowed"):
        load([path])


def test_a_row_that_changes_nothing_is_no_correction(tmp_path: Path) -> None:
    path = write(tmp_path / "neck.wav", notes(82.41, 110.0))
    (plain,), _ = load([path])
    (tmp_path / "takes.csv").write_text("file,pluck,use,reason\nneck.wav,1,yes,attack\n")
    (listed,), _ = load([path])
    assert listed.plucks == plain.plucks


def test_rows_of_plucks_that_do_not_exist_are_said(tmp_path: Path) -> None:
    path = write(tmp_path / "neck.wav", notes(82.41, 110.0))
    (tmp_path / "takes.csv").write_text(
        "file,pluck,use\nneck.wav,1,no\nneck.wav,3,no\nneck.wav,9,no\n"
    )
    (take,), _ = load([path])
    assert [pluck.number for pluck in take.plucks] == [2]
    (said,) = [each for each in take.problems if "takes.csv" in each]
    assert said.startswith("2 rows of takes.csv have no effect: 2 plucks were found in this file")
    assert "no pluck 3, 9" in said


def test_bad_corrections_are_a_session_error(tmp_path: Path) -> None:
    path = write(tmp_path / "neck.wav", notes(82.41))
    (tmp_path / "takes.csv").write_text("file,pluck\nbridge.wav,1\n")
    with pytest.raises(SessionError, match="there is no such file here"):
        load([path])


def test_flags_per_pluck(tmp_path: Path) -> None:
    x = notes(82.41, 110.0, 150.6, 196.0, ring_s=0.8)
    start = round((1.0 + 3 * 1.2) * RATE_HZ)
    x[start:] = 0.05 * x[start:] + 1e-4 * np.random.default_rng(2).standard_normal(len(x) - start)
    x = np.clip(x, -0.3, 0.3)
    take = load_samples(tmp_path, x, rate_hz=RATE_HZ)
    first, _, third, fourth = take.plucks
    assert "clipped" in first.flags
    assert "clipped" in take.flags
    assert "out-of-tune" in third.flags  # 150.6 Hz is 43.9 cents over D3
    assert "soft" in fourth.flags
    assert "clipped" not in fourth.flags


def test_every_flag_has_its_sentence() -> None:
    assert {"clipped", "soft", "out-of-tune", "damped"} <= set(FLAG_SENTENCES)
    assert all(text.endswith(".") for text in FLAG_SENTENCES.values())


def test_samples_of_the_file_are_kept_as_read(tmp_path: Path) -> None:
    x = notes(110.0) + 0.01
    path = write(tmp_path / "v.wav", x)
    (take,), _ = load([path])
    np.testing.assert_array_equal(take.audio.samples[0], sf.read(path)[0])
    assert "dc-offset" in take.flags


def test_other_stage_folders_do_not_mix(tmp_path: Path) -> None:
    session = session_of(tmp_path)
    object.__setattr__(session, "stages", {"s": Stage("s", "g", tmp_path / "s")})
    path = write(tmp_path / "s" / "v.wav", notes(110.0))
    (take,), left_out = load([path], session=session)
    assert len(take.plucks) == 1
    assert not left_out
