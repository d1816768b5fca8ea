"""How names are compared, sorted and guessed: the same rules for files, folders and keys."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

from tonecompare.language import tr_later


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


def folded(name: str) -> str:
    """Return a name without case, accents and umlauts, for finding names that are meant alike.

    Only for comparing: what is shown keeps its letters.

    Examples
    --------
    >>> folded("Brücke"), folded("Señal")
    ('brucke', 'senal')
    """
    parts = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter))


def likeness(one: str, other: str, *, least: float = 0.0) -> float:
    """Return how alike two names are, 0 to 1; less than ``least`` may come out as 0, but sooner.

    Letters in common, as :class:`difflib.SequenceMatcher` counts them (accents and umlauts aside,
    "ü" like "u" or "ue"), or words in common: names of the same words count 1, and one that only
    adds words which say nothing about the sound ("pickup", "take", numbers) counts 0.9.

    Examples
    --------
    >>> likeness("neck", "neck pickup 03"), likeness("Brücke", "bruecke")
    (0.9, 1.0)
    >>> likeness("bridge", "bridge split") < 0.7
    True
    """
    pairs = [(a, b) for a in _spellings(one) for b in _spellings(other)]
    return max(max(_letters(a, b, least), _words(a, b)) for a, b in pairs)


#: The dots of an umlaut: German spells "ü" as "ue" where it has none.
_UMLAUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
#: Words in a file's name that do not say which voice it is.
_SAYS_NOTHING = frozenset((
    "pickup", "pickups", "pu", "humbucker", "hb", "full", "position", "pos", "di",
    "dry", "raw", "clean", "guitar", "sound",
    "take", "takes", "track", "audio", "rec", "recording", "recorded", "file", "test", "edit",
    "final", "new", "old", "copy", "the", "my", "and",
    "tonabnehmer", "aufnahme", "spur", "kopie", "neu", "gitarre",
))  # fmt: skip


@lru_cache(maxsize=4096)
def _spellings(name: str) -> tuple[str, ...]:
    spelt = match_key(name).translate(_UMLAUT)
    return tuple(dict.fromkeys((folded(name), folded(spelt))))


def _letters(one: str, other: str, least: float) -> float:
    matcher = difflib.SequenceMatcher(None, one, other)
    quick = matcher.real_quick_ratio() >= least and matcher.quick_ratio() >= least
    return matcher.ratio() if quick else 0.0


def _words(one: str, other: str) -> float:
    first, second = (set(re.findall(r"[^\W\d_]+", name)) for name in (one, other))
    numbers = [re.findall(r"\d+", name) for name in (one, other)]
    if not first or not second or (numbers[0] and numbers[1] and numbers[0] != numbers[1]):
        return 0.0
    if first == second and numbers[0] == numbers[1]:
        return 1.0
    telling = first - _SAYS_NOTHING, second - _SAYS_NOTHING
    return 0.9 if telling[0] and telling[0] == telling[1] else 0.0


def closest(name: str, allowed: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """Return the allowed name most like ``name``, or None when none is close."""
    best, most = None, cutoff
    for each in allowed:
        alike = likeness(name, each, least=most)
        if alike >= most and (best is None or alike > most):
            best, most = each, alike
    return best


def did_you_mean(name: str, allowed: Iterable[str]) -> str:
    """Return " Did you mean “x”?" for the closest allowed name, or ""."""
    near = closest(name, allowed)
    return tr_later(' Did you mean "{near}"?', near=near) if near else ""


def listed(names: Iterable[str], *, join: str = "and", most: int = 12) -> str:
    """Return names in quotes as running text, ``"a", "b" and "c"``, at most so many of them."""
    quoted = tuple(tr_later('"{name}"', name=str(name)) for name in names)
    either = join == "or"
    if not quoted:
        return tr_later("none")
    if len(quoted) > most:
        return (
            tr_later("{quoted} or {n} more", quoted=quoted[:most], n=len(quoted) - most)
            if either
            else tr_later("{quoted} and {n} more", quoted=quoted[:most], n=len(quoted) - most)
        )
    if len(quoted) == 1:
        return quoted[0]
    if either:
        return tr_later("{names} or {last}", names=quoted[:-1], last=quoted[-1])
    return tr_later("{names} and {last}", names=quoted[:-1], last=quoted[-1])
