"""Texts with numbers that are made while measuring are said later, in another language."""

from __future__ import annotations

import gettext
import pickle
import struct
from pathlib import Path

import pytest

from tonecompare.language import catalogue, in_language, tr, tr_later

RANG = "rang for only {s:.1f} s"
LEFT = "{file} was left out: {why}."
GERMAN = {"": "", RANG: "klang nur {s:.1f} s", LEFT: "{file} fehlt: {why}.",
          "decimal mark\x04.": ",", "neck": "Hals"}  # fmt: skip


def _compiled(texts: dict[str, str]) -> bytes:
    """Return a catalogue as GNU gettext's manual lays it out ("The Format of GNU MO Files")."""
    pairs = sorted((k.encode(), v.encode()) for k, v in texts.items())
    at, tables, blob = 28 + 16 * len(pairs), ([], []), b""
    for side in (0, 1):
        for pair in pairs:
            tables[side].extend((len(pair[side]), at + len(blob)))
            blob += pair[side] + b"\0"
    head = (0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    return struct.pack(f"<{7 + 4 * len(pairs)}I", *head, *tables[0], *tables[1]) + blob


@pytest.fixture
def german(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    folder = tmp_path / "xx" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    texts = GERMAN | {"": "Content-Type: text/plain; charset=UTF-8\n"}
    (folder / "tonecompare.mo").write_bytes(_compiled(texts))
    monkeypatch.setattr(catalogue, "_FOLDER", tmp_path)
    with in_language("xx"):
        yield
    catalogue._catalogue.cache_clear()
    gettext._translations.clear()  # type: ignore[attr-defined]


def test_a_text_with_numbers_is_plain_english_and_is_said_in_german(german: None) -> None:
    text = tr_later("rang for only {s:.1f} s", s=0.42)
    assert text == "rang for only 0.4 s"
    assert tr(text) == "klang nur 0,4 s"
    assert tr(pickle.loads(pickle.dumps(text))) == "klang nur 0,4 s"


def test_a_text_within_a_text_is_said_too_but_a_name_stays(german: None) -> None:
    why = tr_later("rang for only {s:.1f} s", s=0.42)
    said = tr_later("{file} was left out: {why}.", file="neck", why=why)
    assert said == "neck was left out: rang for only 0.4 s."
    assert tr(said) == "neck fehlt: klang nur 0,4 s."
