"""The column ``flags``: flag words and reasons in one text, apart by ``; ``."""

from __future__ import annotations

from collections.abc import Iterable

SEPARATOR = "; "


def joined_flags(parts: Iterable[str]) -> str:
    """Join flags and reasons, each once; a semicolon within one becomes a comma.

    So that splitting at :data:`SEPARATOR` gives the parts back.

    Examples
    --------
    >>> joined_flags(["damped", "decay_s: fell by 10 dB; 25 dB are needed"])
    'damped; decay_s: fell by 10 dB, 25 dB are needed'
    """
    return SEPARATOR.join(dict.fromkeys(part.replace(";", ",") for part in parts if part))


def with_flag(flags: object, more: str) -> str:
    """Return a text of joined flags with one more at its end."""
    text = str(flags or "")
    return joined_flags([*text.split(SEPARATOR), more])
