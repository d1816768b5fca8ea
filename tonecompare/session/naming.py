"""How names are compared, sorted and guessed: the same rules for files, folders and keys."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable


def clean_name(name: str) -> str:
    """Return the name in Unicode NFC: macOS writes "é" as two code points, others as one."""
    return unicodedata.normalize("NFC", name)


def match_key(name: str) -> str:
    """Return what two names must share to be the same: NFC, upper and lower case alike."""
    return unicodedata.normalize("NFC", clean_name(name).casefold())


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key that puts "neck.10" behind "neck.2".

    Examples
    --------
    >>> sorted(["neck.10", "neck.2", "Neck.1"], key=natural_key)
    ['Neck.1', 'neck.2', 'neck.10']
    """
    parts = re.split(r"([0-9]+)", match_key(name))
    return tuple((0, int(p), p) if i % 2 else (1, 0, p) for i, p in enumerate(parts))


def closest(name: str, allowed: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """Return the allowed name most like ``name``, or None when none is close."""
    by_key = {match_key(each): each for each in allowed}
    found = difflib.get_close_matches(match_key(name), by_key, n=1, cutoff=cutoff)
    return by_key[found[0]] if found else None


def did_you_mean(name: str, allowed: Iterable[str]) -> str:
    """Return " Did you mean “x”?" for the closest allowed name, or ""."""
    near = closest(name, allowed)
    return f' Did you mean "{near}"?' if near else ""


def listed(names: Iterable[str], *, join: str = "and", none: str = "none", most: int = 12) -> str:
    """Return names in quotes as running text, ``"a", "b" and "c"``, at most so many of them."""
    quoted = [f'"{name}"' for name in names]
    if not quoted:
        return none
    if len(quoted) > most:
        return f"{', '.join(quoted[:most])} {join} {len(quoted) - most} more"
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} {join} {quoted[-1]}"
