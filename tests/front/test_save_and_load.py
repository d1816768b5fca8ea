"""Saving and loading: the same again, nothing else touched, nothing run from a file."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import get_args, get_type_hints

import numpy as np
import pandas as pd
import pytest

import tonecompare as tc
from tonecompare.errors import InputError
from tonecompare.front.plain_data import _classes, from_plain, to_plain
from tonecompare.front.results import ComparedSession
from tonecompare.front.saved import FORMAT
from tonecompare.language import in_language, tr, tr_later
from tonecompare.measure.resonances import SharedRelease
from tonecompare.report.charts.canvas.svg import svg_of


@pytest.fixture
def saved(result, tmp_path):
    return result.save(tmp_path / "heron.tc")


def test_what_is_loaded_equals_what_was_saved(result, saved):
    again = tc.load(saved)
    pd.testing.assert_frame_equal(again.differences, result.differences, check_exact=True)
    pd.testing.assert_frame_equal(
        again.measurements.plucks, result.measurements.plucks, check_exact=True
    )
    assert again.findings == result.findings
    assert again.session == result.session
    drawn, once = (svg_of(each.plot.spectrum("neck"), "neck") for each in (again, result))
    assert drawn == once


def _classes_within(hint: object, known: set[type]) -> Iterator[type]:
    """Yield every data class that a value of a type may hold."""
    if isinstance(hint, type) and is_dataclass(hint):
        if hint in known:
            return
        known.add(hint)
        yield hint
        names = {each.__name__: each for each in _classes().values()} | {"pd": pd}
        hints = get_type_hints(hint, localns=names)
        inside = [hints[one.name] for one in fields(hint) if one.init]
    else:
        inside = list(get_args(hint))
    for each in inside:
        yield from _classes_within(each, known)


def test_every_class_that_a_comparison_holds_can_be_saved():
    found = set(_classes_within(ComparedSession, set()))
    assert SharedRelease in found
    assert found <= set(_classes().values())


def test_what_magnetic_outputs_tell_together_comes_back():
    release = SharedRelease(
        (("before", "neck", "magnetic"),), np.array([[8.0, 0.5]]), np.eye(2), np.array([5e3]), True
    )
    arrays: dict[str, np.ndarray] = {}
    again = from_plain(json.loads(json.dumps(to_plain(release, arrays))), arrays)
    assert again.keys == release.keys
    assert np.array_equal(again.low_pass, release.low_pass)


def test_a_text_with_numbers_is_said_in_another_language_after_loading():
    inside = tr_later("lasts only {length_s:.3f} s", length_s=0.25)
    text = tr_later("{file}: {what}.", file="neck.wav", what=inside)
    again = from_plain(json.loads(json.dumps(to_plain(text, {}))), {})
    assert again == text
    with in_language("de"):
        assert tr(again) == tr(text) != str(text)


def test_an_earlier_file_of_ours_is_replaced_and_nothing_left_beside(result, saved):
    result.save(saved)
    assert [path.name for path in saved.parent.iterdir()] == ["heron.tc"]


def test_a_file_that_is_not_ours_is_left_alone(result, tmp_path):
    theirs = tmp_path / "notes.tc"
    theirs.write_text("my notes")
    with pytest.raises(InputError, match="left alone"):
        result.save(theirs)
    assert theirs.read_text() == "my notes"


def _with(saved, name, text):
    with zipfile.ZipFile(saved) as packed:
        held = {each: packed.read(each) for each in packed.namelist()}
    with zipfile.ZipFile(saved, "w") as packed:
        for each, data in {**held, name: text}.items():
            packed.writestr(each, data)


def test_another_format_is_named(saved):
    said = {"mark": "tonecompare comparison", "format": 99, "version": "9.0"}
    _with(saved, "manifest.json", json.dumps(said))
    with pytest.raises(InputError, match=r"format 99 by tonecompare 9\.0"):
        tc.load(saved)


@pytest.mark.parametrize("named", ["subprocess:Popen", "os:system", "pathlib:Path"])
def test_no_class_of_anyone_else_is_made(saved, named):
    _with(saved, "result.json", json.dumps({"class": named, "fields": {}}))
    with pytest.raises(InputError, match="cannot be read"):
        tc.load(saved)


def test_no_file_another_file_and_a_cut_file_are_said(saved, tmp_path):
    with pytest.raises(InputError, match="no such file"):
        tc.load(tmp_path / "nothing.tc")
    data = saved.read_bytes()
    saved.write_bytes(data[: len(data) // 2])
    with pytest.raises(InputError, match="cut short"):
        tc.load(saved)


def test_a_folder_that_is_not_there_is_said(result, tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        result.save(tmp_path / "nowhere" / "heron.tc")


def test_a_file_with_one_changed_stretch_is_said_to_be_damaged(saved):
    data = bytearray(saved.read_bytes())
    with zipfile.ZipFile(saved) as packed:
        at = packed.getinfo("result.json").header_offset
    for place in range(at + 60, at + 400):
        data[place] ^= 0xFF
    saved.write_bytes(bytes(data))
    with pytest.raises(InputError, match="damaged"):
        tc.load(saved)


def test_others_may_read_a_saved_file_as_they_may_any_new_file(saved):
    plain = saved.with_name("plain.txt")
    plain.write_text("")
    assert saved.stat().st_mode == plain.stat().st_mode


def test_errors_speak_the_language_that_is_set(tmp_path):
    with in_language("de"), pytest.raises(InputError, match="Diese Datei gibt es nicht"):
        tc.load(tmp_path / "heron.tc")


def test_a_class_with_other_fields_is_another_format():
    """Regression only: who changes a field raises FORMAT, so that old files are told as such."""
    shape = "\n".join(
        f"{name}: {' '.join(one.name for one in fields(each) if one.init)}"
        for name, each in sorted(_classes().items())
    )
    assert (FORMAT, hashlib.sha256(shape.encode()).hexdigest()[:12]) == (4, "dae03dc3cd2d")
