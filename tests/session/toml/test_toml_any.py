"""Whatever stands in session.toml or takes.csv, it is read or refused; nothing else is raised."""

from __future__ import annotations

import contextlib
import json
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tonecompare.errors import SessionError
from tonecompare.session import read_overrides, read_session_toml

KEYS = st.sampled_from(
    [
        "title",
        "mains_hz",
        "a4_hz",
        "conditions",
        "instruments",
        "stages",
        "voices",
        "comparisons",
        "worth",
        "instrument",
        "from",
        "date",
        "work",
        "what",
        "hours",
        "ratings",
        "tuning",
        "strings",
        "scale_length_mm",
        "outputs",
        "output",
        "pickups",
        "before",
        "after",
        "control_before",
        "control_after",
        "currency",
        "heron",
        "wren",
        "hearing_thresholds",
    ]
)
PLAIN = st.one_of(
    st.integers(-100, 1000),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.sampled_from(["heron", "wren", "E2 A2", "piezo", "", "ü"]),
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


def inline(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {inline(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(inline(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.dictionaries(KEYS, VALUES, max_size=6))
def test_any_tables(tables):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "session.toml"
        text = "\n".join(f"{key} = {inline(value)}" for key, value in tables.items())
        path.write_text(text, encoding="utf-8")
        with contextlib.suppress(SessionError):
            read_session_toml(path)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.binary(max_size=60) | st.text(alphabet='a="[]{}.,\n\\#1 ü\x00', max_size=60))
def test_any_bytes(raw):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "session.toml"
        path.write_bytes(raw if isinstance(raw, bytes) else raw.encode())
        with contextlib.suppress(SessionError):
            read_session_toml(path)
        with contextlib.suppress(SessionError):
            read_overrides(path)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(st.lists(st.text(alphabet='ab1.,;"\n\r-eE\x00 ', max_size=6), max_size=8)))
def test_any_rows(rows):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "takes.csv"
        text = "file,pluck,onset_s,note,string,use,reason\n" + "\n".join(",".join(r) for r in rows)
        path.write_text(text, encoding="utf-8", newline="")
        with contextlib.suppress(SessionError):
            read_overrides(path)
