"""A language that brackets every text, so that what passes the catalogue by shows."""

from __future__ import annotations

import gettext
import re
from html import unescape

#: What is in no catalogue: names of the session, notes, units, files, columns, libraries.
_NO_TEXT = re.compile(
    r"""\b(?:\w+\.(?:csv|json|wav|flac|html|toml)|index|tonecompare|session|summary|clips|SHA-256
    |n|dBFS|dB|kHz|Hz|ms|s|%|cents|µs|mm|T60|Q|RMS|[A-G]♯?\d|PCM\ \d+|[0-9a-f]{64}
    |numpy|scipy|pandas|librosa|soundfile|matplotlib|Jinja2|[Pp]ython|libsndfile|x86_64|Linux)\b""",
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


def unsaid(html: str, names: set[str]) -> list[str]:
    """Return the texts of a page, seen or read out, with letters that passed the catalogue by.

    A text that holds markup is one text.
    """
    known = re.compile("|".join(sorted(map(re.escape, names), key=len, reverse=True)), re.I)
    body = re.sub(r"<(script|style|template)\b.*?</\1>", "", html, flags=re.DOTALL)
    labels = re.findall(
        r'(?:aria-label|data-(?:hint|name|label|play|stop|unplayable)|title|alt)="([^"]*)"', body
    )
    seen = [unescape(one).strip() for one in (*re.split(r"<[^>]*>", outside(body)), *labels)]

    def passed_by(text: str) -> bool:
        # A name may hold a word of the program's, and a file's name the name of a voice.
        rest = outside(text)
        return _letters(known.sub("", rest)) and _letters(known.sub("", _NO_TEXT.sub("", rest)))

    return list(dict.fromkeys(filter(passed_by, seen)))


def _letters(text: str) -> bool:
    return bool(re.search(r"[^\W\d_]{2,}", _NO_TEXT.sub("", text)))


def all_said(text: str, *names: str) -> bool:
    """Return whether a text but for names, numbers and units passed the catalogue."""
    rest = outside(text)
    for name in names:
        rest = rest.replace(name, "")
    return not _letters(rest)
