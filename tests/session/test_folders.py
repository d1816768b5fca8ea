"""Which file carries which voice: names only, nothing is opened."""

from __future__ import annotations

import os
import unicodedata

import pytest

from tonecompare.errors import InputError
from tonecompare.session import find_recordings
from tonecompare.session.sound_folders import AUDIO_SUFFIXES, holds_audio


@pytest.fixture
def stage(tmp_path):
    def make(*names):
        folder = tmp_path / "stock"
        folder.mkdir(exist_ok=True)
        for name in names:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch()
        return folder

    return make


def found(folder, **options):
    recordings, left_out = find_recordings(folder, **options)
    files = {r.voice: [f.relative_to(folder).as_posix() for f in r.files] for r in recordings}
    return files, {each.file: each.reason for each in left_out}


def test_a_file_per_voice(stage):
    files, left_out = found(stage("bridge.wav", "neck.flac", "piezo.AIFF"))
    assert files == {"bridge": ["bridge.wav"], "neck": ["neck.flac"], "piezo": ["piezo.AIFF"]}
    assert not left_out


def test_libsndfiles_formats_are_known():
    for suffix in (".wav", ".flac", ".aiff", ".aif", ".w64", ".caf", ".ogg", ".mp3"):
        assert suffix in AUDIO_SUFFIXES


def test_several_files_of_one_voice_in_natural_order(stage):
    files, _ = found(stage("neck.10.wav", "neck.2.wav", "neck.1.flac", "neck.wav"))
    assert files == {"neck": ["neck.wav", "neck.1.flac", "neck.2.wav", "neck.10.wav"]}


def test_a_pluck_per_file_in_a_folder_of_the_voice(stage):
    files, _ = found(stage("neck/E2.10.wav", "neck/E2.9.wav", "neck/A2.1.wav", "bridge.wav"))
    assert files["neck"] == ["neck/A2.1.wav", "neck/E2.9.wav", "neck/E2.10.wav"]
    assert files["bridge"] == ["bridge.wav"]


def test_a_known_voice_may_end_in_a_number(stage):
    folder = stage("coil.1.wav", "coil.2.wav")
    assert found(folder)[0] == {"coil": ["coil.1.wav", "coil.2.wav"]}
    known, _ = found(folder, voices=["coil.1", "coil.2"])
    assert known == {"coil.1": ["coil.1.wav"], "coil.2": ["coil.2.wav"]}


def test_dots_that_count_nothing_belong_to_the_name(stage):
    files, _ = found(stage("neck v1.b.wav", "p.90s.wav"))
    assert set(files) == {"neck v1.b", "p.90s"}


def test_of_two_suffixes_the_same_one_is_always_kept_and_the_other_named(stage):
    files, left_out = found(stage("bridge.mp3", "bridge.flac", "bridge.wav"))
    assert files == {"bridge": ["bridge.wav"]}
    assert set(left_out) == {"bridge.mp3", "bridge.flac"}
    assert "bridge.wav beside it goes by the same name" in left_out["bridge.flac"]


def test_names_that_differ_in_case_only_are_one_voice(stage):
    folder = stage("Bridge.wav", "bridge.wav")
    if len(list(folder.iterdir())) < 2:
        pytest.skip("this file system makes no difference between upper and lower case")
    files, left_out = found(folder)
    assert files == {"Bridge": ["Bridge.wav"]}
    assert list(left_out) == ["bridge.wav"]


def test_the_spelling_of_known_voices_is_kept(stage):
    assert set(found(stage("BRIDGE.wav"), voices=["Bridge"])[0]) == {"Bridge"}


def test_a_voice_with_file_and_folder_uses_the_file(stage):
    files, left_out = found(stage("neck.wav", "neck/E2.1.wav"))
    assert files == {"neck": ["neck.wav"]}
    assert "has a file of its own, neck.wav" in left_out["neck/E2.1.wav"]


def test_what_is_no_recording_is_passed_over_in_silence(stage):
    names = [".hidden.wav", "._neck.wav", "notes.txt", "takes.csv", "x.toml", "neck.wav.asd"]
    names += ["__MACOSX/neck.wav", ".git/a.wav", "picture.png", "reports/clips/a.wav"]
    files, left_out = found(stage(*names, "neck.wav"))
    assert files == {"neck": ["neck.wav"]}
    assert not left_out


def test_what_looks_like_sound_and_cannot_be_used_is_named(stage):
    folder = stage("neck.m4a", "bridge.wma", "voice/deep/a.wav", "voice/b.wav")
    (folder / "lost.wav").symlink_to(folder / "nowhere.wav")
    os.mkfifo(folder / "pipe.wav")
    files, left_out = found(folder)
    assert files == {"voice": ["voice/b.wav"]}
    assert "audio editor" in left_out["neck.m4a"]
    assert "WAV, 24 bit" in left_out["bridge.wma"]
    assert "one folder too deep" in left_out["voice/deep/a.wav"]
    assert "leads to no file" in left_out["lost.wav"]
    assert "Is a pipe or a device" in left_out["pipe.wav"]
    assert len(left_out) == 5


def test_output_of_the_program_is_no_voice(stage):
    folder = stage("neck.wav", "out/neck clip.wav")
    (folder / "out" / "summary.json").write_text('{\n "made_by": "tonecompare clips",\n')
    assert found(folder) == ({"neck": ["neck.wav"]}, {})
    assert not holds_audio(folder / "out")


def test_hostile_and_foreign_names_stay_intact(stage):
    names = ['<b>&"neck"\'', "вторая 一", "{{ 7*7 }}"]
    files, _ = found(stage(*(f"{name}.wav" for name in names)))
    assert set(files) == set(names)
    assert all(files[name] == [f"{name}.wav"] for name in names)


def test_accents_are_one_voice_however_they_are_coded(stage):
    composed, apart = (unicodedata.normalize(form, "élan") for form in ("NFC", "NFD"))
    assert composed != apart
    files, _ = found(stage(f"{apart}.wav"))
    assert set(files) == {composed}
    assert set(found(stage(), voices=[composed])[0]) == {composed}


def test_left_out_files_are_named_as_the_caller_wants(stage):
    folder = stage("neck.m4a")
    _, left_out = find_recordings(folder, name=lambda path: f"stage/{path.name}")
    assert left_out[0].file == "stage/neck.m4a"


@pytest.mark.parametrize(
    ("make", "piece"),
    [
        (lambda p: p / "none", "there is no such folder"),
        (lambda p: p / "none" / "deeper", "none does not exist either"),
        (lambda p: p / "take.wav", "Give the folder it lies in"),
    ],
)
def test_no_folder_is_said_clearly(tmp_path, make, piece):
    (tmp_path / "take.wav").touch()
    with pytest.raises(InputError, match=piece):
        find_recordings(make(tmp_path))
