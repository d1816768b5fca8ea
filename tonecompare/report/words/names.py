"""Names: voices as people read them, and safe file names for whatever a voice is called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from hashlib import sha256

from tonecompare.language import tr, tr_later
from tonecompare.session.model import ComparedSide

#: What a voice puts out, as readers call it.
OUTPUTS = (tr_later("magnetic"), tr_later("piezo"), tr_later("blend"))

#: Voice names that are plain file stems are shown as words ("neck-split" as "Neck (split)").
_PLAIN_STEM = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")
#: How a voice is wired, which stands in brackets: a comma would read as one of the sentence.
_SETTING = re.compile(
    r"((?:[-_](?:split|tap|tapped|series|parallel|inverted|reversed|bypass|repeat))+)(?=[-_]|$)"
)
_LONGEST_SLUG = 48
#: Names Windows keeps for devices, whatever the extension.
_RESERVED = frozenset(
    ("con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10)))
)


#: What moves or hides letters without being one: controls, direction marks and overrides (Unicode
#: standard annex 9), letters of no width, line and paragraph separators, halves of a pair.
_UNSEEN = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069"
    r"\ufeff\ud800-\udfff]"
)


def visible(text: str) -> str:
    """Return a text whose control and direction marks are written out: ``⟨U+202E⟩``.

    Examples
    --------
    >>> visible("neck\u202egnp.wav")
    'neck⟨U+202E⟩gnp.wav'
    """
    return _UNSEEN.sub(lambda mark: f"\N{MATHEMATICAL LEFT ANGLE BRACKET}U+{ord(mark[0]):04X}"
                       "\N{MATHEMATICAL RIGHT ANGLE BRACKET}", text)  # fmt: skip


def voice_title(voice: str, *, output: str = "", several_outputs: bool = False) -> str:
    """Return a voice's name for people; names that are not plain file stems stay as they are.

    ``neck-split`` reads "Neck (split)", ``bridge-and-piezo`` "Bridge and piezo"; with several
    outputs the output is named too.
    """
    title = voice
    if _PLAIN_STEM.fullmatch(voice):
        words = _SETTING.sub(_bracketed, voice).replace("-", " ").replace("_", " ")
        title = words[:1].upper() + words[1:]
    return with_output(title, output) if several_outputs and output else title


def side_title(before: str, after: str) -> str:
    """Return what is compared, for people: stages as they are called, voices by their titles.

    ``heron-stock → heron-rewound``; "Bridge (split) against Bridge"; with the stages where they
    differ too.
    """
    one, other = ComparedSide.named(before), ComparedSide.named(after)
    if one.voice is None or other.voice is None or one.voice == other.voice:
        return f"{before} → {after}"
    this, that = voice_title(other.voice), voice_title(one.voice)
    if one.stage != other.stage:
        this, that = f"{this} ({other.stage})", f"{that} ({one.stage})"
    return tr("{one} against {other}", one=this, other=that)


def comparison_title(before: str, after: str) -> str:
    """Return a comparison's name as people read it: ``heron-stock to heron-rewound``."""
    return tr("{before} to {after}", before=before, after=after)


def with_output(title: str, output: str) -> str:
    """Return a title with the output it speaks of: "Neck (piezo)", "Neck (split; piezo)"."""
    called = tr(output)
    return f"{title[:-1]}; {called})" if title.endswith(")") else f"{title} ({called})"


def _bracketed(settings: re.Match[str]) -> str:
    return f" ({settings[1][1:]})"


def slug(name: str, *, longest: int = _LONGEST_SLUG) -> str:
    """Return a file name stem that is safe on every system: ASCII letters, digits and hyphens.

    Letters with accents lose them. A name that loses anything else (slashes, quotes, other
    scripts) gets eight hexadecimal digits of its SHA-256, so that different names stay different.
    """
    folded = unicodedata.normalize("NFKD", name)
    plain = "".join(mark for mark in folded if not unicodedata.combining(mark)).lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:longest].strip("-")
    lossless = re.fullmatch(r"[a-z0-9]+(?:[ _-]+[a-z0-9]+)*", plain) and len(plain) <= longest
    if lossless and stem not in _RESERVED:
        return stem
    digest = sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{stem}-{digest}" if stem else f"name-{digest}"


def unique_slugs(names: Iterable[str]) -> dict[str, str]:
    """Return a distinct slug for each name ("neck split" and "neck-split" share a stem)."""
    taken: set[str] = set()
    slugs: dict[str, str] = {}
    for name in names:
        if name in slugs:
            continue
        candidate, number = slug(name), 2
        while candidate in taken:
            candidate, number = f"{slug(name)}-{number}", number + 1
        taken.add(candidate)
        slugs[name] = candidate
    return slugs


def told_apart(names: Sequence[str]) -> list[str]:
    """Return names without the words that all of them begin or end with.

    They stay whole where what is left would read as an output: "piezo" of the stage "heron-piezo".

    >>> told_apart(["heron-stock", "heron-rewound"])
    ['stock', 'rewound']
    """
    parts = [re.split(r"(?<=[-_ ])|(?=[-_ (])", name) for name in names]
    shortest = min(map(len, parts), default=0)
    front = 0
    while front < shortest - 1 and len({part[front] for part in parts}) == 1:
        front += 1
    back = 0
    while back < shortest - 1 - front and len({part[-1 - back] for part in parts}) == 1:
        back += 1
    kept = ["".join(part[front : len(part) - back]).strip("-_ ") for part in parts]
    plain = all(kept) and len(set(kept)) == len(set(names)) and not set(OUTPUTS) & set(kept)
    return kept if plain else list(names)
