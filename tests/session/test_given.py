"""Files or folders given to compare: what each kind of gift is taken for."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tonecompare.errors import InputError
from tonecompare.session import session_of_given


@pytest.fixture
def home(tmp_path, monkeypatch) -> Path:
    """Stand among three guitars of two voices each, and one of a single voice."""
    for name, voices in (("a", "bridge neck"), ("b", "bridge neck"), ("c", "neck"), ("d", "neck")):
        (tmp_path / name).mkdir()
        for voice in voices.split():
            (tmp_path / name / f"{voice}.wav").touch()
    (tmp_path / "a" / "notes.m4a").touch()
    os.mkfifo(tmp_path / "pipe")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("given", "pairs"),
    [
        (["a/bridge.wav", "a/neck.wav"], [("a/bridge", "a/neck")]),
        (["a/neck.wav", "b/neck.wav"], [("a", "b")]),
        (["a/neck.wav", "b/bridge.wav"], [("a/neck", "b/bridge")]),
        (["a/neck.wav", "b/bridge.wav", "c/neck.wav"], [("a/neck", "b/bridge"), ("a", "c")]),
        (["a"], []),
        (["a", "b"], [("a", "b")]),
        (["a", "b", "c"], [("a", "b"), ("a", "c")]),
    ],
)
def test_what_is_compared(home, given, pairs):
    session = session_of_given([Path(each) for each in given])
    assert [(spec.before, spec.after) for spec in session.comparisons] == pairs
    files = {file for one in session.recordings for file in one.files}
    assert all(file.is_file() for file in files)
    assert {session.file_name(file).count("..") for file in files} == {0}


@pytest.mark.parametrize(
    ("given", "piece"),
    [
        (["a/neck.wav"], "give a second file"),
        (["a/neck.wav", "a/neck.wav"], "given twice"),
        (["a/neck.wav", "b"], "is a file and b a folder"),
        (["a/neck.wav", "a/notes.m4a"], '"notes.m4a" cannot be read'),
        (["a/neck.wav", "pipe"], "pipe: is a pipe or a device"),
        (["d"], "holds one voice"),
        (["a", "a"], "given twice"),
        (["a", "b", "a"], "given twice"),
        (["a", "missing"], "missing"),
        (["a/neck.wav", "a/brigde.wav"], 'no such file. Did you mean "bridge.wav"?'),
    ],
)
def test_what_cannot_be_compared(home, given, piece):
    with pytest.raises(InputError) as caught:
        session_of_given([Path(each) for each in given])
    assert piece in str(caught.value)
