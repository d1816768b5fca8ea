"""Signs that no keyboard writes: what a broken disk or program left in a text."""

from __future__ import annotations

import re
from pathlib import Path

from tonecompare.errors import SessionError
from tonecompare.language import tr_later

#: What TOML 1.0 allows nowhere in a document, and no table needs: control characters but tab and
#: line ends.
_CONTROL_SIGN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


def refuse_control_signs(text: str, path: Path) -> None:
    """Raise :class:`SessionError` at the first of them, with its line and column."""
    found = _CONTROL_SIGN.search(text)
    if found is not None:
        raise SessionError(
            tr_later(
                "line {line}, column {column}: a sign that is no text (number {number}) stands "
                "there. Delete it, or write the line anew.",
                line=text.count("\n", 0, found.start()) + 1,
                column=found.start() - text.rfind("\n", 0, found.start()),
                number=ord(found[0]),
            ),
            file=path,
        )
