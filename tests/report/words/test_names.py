"""Voice titles and safe file names."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonecompare.report.words.names import slug, unique_slugs, visible, voice_title

HOSTILE = ["..", ".", "", "a/b", "a\\b", "<b>x</b>", 'q"q', "日本語", "con", "a\x00b", "  ", "C:x"]


def test_plain_stems_become_words():
    assert voice_title("neck-split") == "Neck (split)"
    assert voice_title("piezo_bridge") == "Piezo bridge"
    assert voice_title("bridge-and-piezo") == "Bridge and piezo"
    assert voice_title("neck-parallel-repeat") == "Neck (parallel repeat)"
    assert voice_title("bridge-split-and-piezo") == "Bridge (split) and piezo"
    assert voice_title("splitter-box") == "Splitter box"


@pytest.mark.parametrize("name", ["Neck-Split", "<b>x</b>", "日本語", "a/b", "neck--split", ""])
def test_other_names_stay_as_they_are(name):
    assert voice_title(name) == name


def test_output_is_named_only_where_there_are_several():
    assert voice_title("piezo", output="piezo") == "Piezo"
    assert voice_title("both", output="piezo", several_outputs=True) == "Both (piezo)"


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_become_safe(name):
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", slug(name))


def test_hostile_names_stay_apart():
    assert len({slug(name) for name in HOSTILE}) == len(HOSTILE)


@given(st.text(max_size=80))
def test_every_text_becomes_a_safe_stem(name):
    stem = slug(name)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", stem)
    assert len(stem) <= 60


@given(st.lists(st.text(max_size=8), max_size=12))
def test_slugs_of_different_names_differ(names):
    slugs = unique_slugs(names)
    assert set(slugs) == set(names)
    assert len(set(slugs.values())) == len(slugs)


def test_names_that_share_a_stem_are_numbered():
    assert unique_slugs(["neck split", "neck-split"]) == {
        "neck split": "neck-split",
        "neck-split": "neck-split-2",
    }


def test_readable_names_stay_readable():
    assert slug("Heron – rewind №2").startswith("heron")
    assert slug("neck-split") == "neck-split"
    assert slug("Öl über") == "ol-uber"


@pytest.mark.parametrize(
    "mark", ["\x00", "\x1b", "\u202e", "\u2066", "\u200f", "\u200b", "\ufeff", "\u2028", "\udcff"]
)
def test_marks_nobody_sees_are_written_out(mark):
    assert visible(f"neck{mark}.wav") == f"neck⟨U+{ord(mark):04X}⟩.wav"


@pytest.mark.parametrize("text", ["Neck (split)", "日本語", "عود", "a\u200db", "é", "tab\tline"])
def test_letters_of_every_script_stay(text):
    assert visible(text) == text
