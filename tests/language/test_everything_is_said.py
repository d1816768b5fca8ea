"""Nothing a reader sees passes the catalogue by: in a language that brackets every text, all of
the page's letters stand in brackets but for names, numbers and units."""

from __future__ import annotations

import gettext
import re
from html import unescape
from pathlib import Path

import pytest

import tonecompare
from tonecompare.compare import compare_session, find_worth
from tonecompare.compare.planned import with_voice_pairs
from tonecompare.language import catalogue
from tonecompare.measure import measure_session
from tonecompare.report import write_report
from tonecompare.session import load_session

DEMO = Path(tonecompare.__file__).parents[1] / "recordings_demo"

#: What is in no catalogue: names of the session, notes, units, files, columns, libraries.
_NO_TEXT = re.compile(
    r"""\b(?:\w+\.(?:csv|json|wav|html|toml)|index|tonecompare|session|summary|clips|SHA-256
    |n|dBFS|dB|kHz|Hz|ms|s|%|cents|µs|mm|T60|Q|RMS|[A-G]♯?\d|PCM\ \d+|[0-9a-f]{64}
    |numpy|scipy|pandas|librosa|soundfile|matplotlib|Jinja2|Python|libsndfile|x86_64|Linux)\b""",
    re.VERBOSE,
)


class Bracketed(gettext.NullTranslations):
    """Says every text in brackets, so that what is not said shows."""

    def gettext(self, message):
        return f"⟦{message}⟧"

    def pgettext(self, context, message):
        return message if context == "decimal mark" else f"⟦{message}⟧"

    def ngettext(self, msgid1, msgid2, n):
        return f"⟦{msgid1 if n == 1 else msgid2}⟧"


def outside(text: str) -> str:
    """Return what stands in no bracket."""
    depth, kept = 0, []
    for letter in text:
        depth += (letter == "⟦") - (letter == "⟧")
        if depth == 0 and letter != "⟧":
            kept.append(letter)
    return "".join(kept)


def seen(html: str) -> list[str]:
    """Return every text of a page that a reader sees or hears read out."""
    body = re.sub(r"<(script|style|template)\b.*?</\1>", "", html, flags=re.DOTALL)
    labels = re.findall(r'(?:aria-label|data-[a-z]+|title|alt)="([^"]*)"', body)
    return [unescape(one).strip() for one in (*re.split(r"<[^>]*>", body), *labels) if one.strip()]


def unsaid(html: str, names: set[str]) -> list[str]:
    """Return the texts of a page that hold letters which passed the catalogue by."""
    known = re.compile("|".join(sorted(map(re.escape, names), key=len, reverse=True)), re.I)
    found = []
    for text in seen(html):
        rest = _NO_TEXT.sub("", known.sub("", outside(text)))
        if re.search(r"[^\W\d_]{2,}", rest):
            found.append(text)
    return list(dict.fromkeys(found))


def test_brackets_are_counted():
    assert outside("a ⟦b ⟦c⟧ d⟧ e") == "a  e"
    assert unsaid('<p aria-label="loud">⟦3 dB up⟧ neck</p>', {"neck"}) == ["loud"]


@pytest.fixture
def bracketed(monkeypatch):
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())


@pytest.mark.long
def test_every_text_of_the_page_passes_the_catalogue(bracketed, tmp_path):
    session = load_session(DEMO)
    measurements = measure_session(session, workers=2)
    session = with_voice_pairs(session, measurements)
    comparisons = compare_session(session, measurements)
    worth = find_worth(session, measurements, comparisons)
    folder = write_report(session, measurements, comparisons, tmp_path / "r", worth=worth)
    names = {session.title, *session.stages, *(one.voice for one in session.recordings)}
    names |= {one.replace("-", " ") for one in names}
    assert unsaid((folder / "index.html").read_text(encoding="utf-8"), names) == []
