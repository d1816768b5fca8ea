"""Which voice a file's name means: ``[voices.neck] files = ["neck pickup*", "Take 03*"]``.

A pattern is held against the name of a file without its ending (or of a voice folder), in every
stage folder. ``*`` stands for anything and ``?`` for one sign; upper and lower case and the way
accents are coded make no difference. A name that ends in "-again", "-hands-on" or "-hands-off"
keeps that ending: "neck pickup-again" is "neck-again".
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from pathlib import Path

from tonecompare.language import tr_later
from tonecompare.session.model import AGAIN, HANDS_OFF, HANDS_ON, Recording, Voice
from tonecompare.session.naming import clean_name, closest, folded, listed, match_key
from tonecompare.session.toml.schema import Problems, dotted, quoted

#: Words that need another beside them: "on" alone is no voice.
_JOINING = ("in", "out", "of", "and", "again", "hands", "on", "off", "pickup", "position")
#: What the names of voices are made of, numbers aside.
_VOICE_WORDS = frozenset((
    "bridge", "middle", "neck", "piezo", "saddle", "split", "series", "parallel", "blend", "both",
    "mix", "mixed", "magnetic", "acoustic", "reference", "humbucker", "single", "coil", "tap",
    "phase", "steg", "hals", "mitte", "mittel", *_JOINING,
))  # fmt: skip


#: A note with octave as a word of a name.
_NOTE = re.compile(r"(?i)^[a-g][#♯b♭]?\d$")
#: As many voices as no guitar has that differ by number alone.
_MANY = 6
#: "neck E2 1", "neck_F#3.2": a voice, a note with octave and perhaps a number.
_VOICE_AND_NOTE = re.compile(r"(.+?)[ _.-]+[A-G][#♯b♭]?\d(?:[ _.-]+\d{1,3})?")


def is_voice_name(name: str) -> bool:
    """Tell whether a name reads like that of a voice.

    Examples
    --------
    >>> is_voice_name("bridge-split"), is_voice_name("heron-stock"), is_voice_name("E2.1")
    (True, False, False)
    """
    words = set(re.findall(r"[^\W\d_]+", folded(name)))
    return words <= _VOICE_WORDS and not words <= set(_JOINING)


def voice_of_pluck(name: str, known: Container[str] = ()) -> str | None:
    """Return the voice that a file of one pluck names before its note, None for other names.

    ``known`` are the keys of voices known by name.

    Examples
    --------
    >>> voice_of_pluck("neck E2 1"), voice_of_pluck("bridge-split_F#3"), voice_of_pluck("take A2")
    ('neck', 'bridge-split', None)
    """
    match = _VOICE_AND_NOTE.fullmatch(clean_name(name))
    if match is None or not (is_voice_name(match[1]) or match_key(match[1]) in known):
        return None
    return match[1]


def perhaps_one_voice(voices: Iterable[str]) -> tuple[str, ...]:
    """Return a sentence for many voices whose names differ in notes and numbers only.

    Such names are mostly those of single plucks; each was taken for a voice of its own.
    """
    alike: dict[str, list[str]] = {}
    for voice in dict.fromkeys(voices):
        words = [re.sub(r"\d+", "", _NOTE.sub("", word)) for word in re.split(r"[\W_]+", voice)]
        alike.setdefault(" ".join(filter(None, words)), []).append(voice)
    return tuple(
        tr_later(
            "{n} names like {name} differ in notes and numbers only, and each was taken for a "
            "voice of its own. If they are plucks of one voice, put them into a folder of its name "
            "(bridge/…), or write into session.toml beside the stage folders, under "
            "[voices.bridge]: files = [{pattern}].",
            n=len(names),
            name=listed([names[0]]),
            pattern=quoted(_beginning(names) + "*"),
        )
        for names in alike.values()
        if len(names) >= _MANY
    )


def _beginning(names: Sequence[str]) -> str:
    pairs = zip(min(names), max(names), strict=False)
    return "".join(one for one, _ in takewhile(lambda pair: pair[0] == pair[1], pairs))


@dataclass(frozen=True)
class Claim:
    """A voice that a file's name is said to mean, and by which pattern; "" for the name itself."""

    voice: str
    pattern: str = ""


@dataclass(frozen=True)
class VoiceFiles:
    """What ``session.toml`` says of the files of voices: patterns by voice."""

    patterns: Mapping[str, Sequence[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, voices: Iterable[Voice]) -> VoiceFiles:
        """Return the patterns of described voices."""
        return cls({voice.name: voice.files for voice in voices if voice.files})

    def claims(self, name: str) -> tuple[Claim, ...]:
        """Return every voice that patterns say a name means, each once.

        Examples
        --------
        >>> names = VoiceFiles({"neck": ["neck pickup*", "Take 03*"]})
        >>> names.claims("take 03 (edited)")
        (Claim(voice='neck', pattern='Take 03*'),)
        >>> names.claims("Neck Pickup-again")[0].voice
        'neck-again'
        """
        key = match_key(name)
        ending = next((e for e in (AGAIN, HANDS_ON, HANDS_OFF) if key.endswith(e)), "")
        found = []
        for voice, patterns in self.patterns.items():
            plain = next((p for p in patterns if _fits(p, key.removesuffix(ending))), None)
            whole = next((p for p in patterns if _fits(p, key)), None)
            if plain is not None:
                found.append(Claim(voice + ending, plain))
            elif whole is not None:
                found.append(Claim(voice, whole))
        return tuple(found)

    def voice_of(self, name: str) -> str | None:
        """Return the first voice that patterns say a name means, None when none does."""
        claims = self.claims(name)
        return claims[0].voice if claims else None


def _fits(pattern: str, key: str) -> bool:
    wanted = re.escape(match_key(pattern)).replace(r"\*", ".*").replace(r"\?", ".")
    return re.fullmatch(wanted, key, re.DOTALL) is not None


def check_claims(
    names: VoiceFiles,
    recordings: Sequence[Recording],
    folders: Mapping[str, Path],
    *,
    voices: Iterable[str],
    file: Path,
) -> tuple[str, ...]:
    """Refuse names that two voices claim; return a notice for each voice whose patterns hit none.

    Parameters
    ----------
    names
        The patterns.
    recordings
        As they were found with these patterns.
    folders
        The folder of each stage.
    voices
        All voices that ``session.toml`` describes.
    file
        The ``session.toml``, for messages.

    Raises
    ------
    SessionError
        When a name fits the patterns of two voices, or a pattern of one and the name of another.
    """
    described = {match_key(voice): voice for voice in voices}
    there = {
        path.stem if path.parent == folders[recording.stage] else path.parent.name
        for recording in recordings
        for path in recording.files
    }
    problems = Problems(file)
    hit: set[str] = set()
    for name in sorted(there):
        claims = names.claims(name)
        hit |= {claim.pattern for claim in claims}
        own = described.get(match_key(name))
        if own is not None and own not in (claim.voice for claim in claims) and claims:
            claims = (*claims, Claim(own))
        if len(claims) > 1:
            said = tuple(
                tr_later('"{voice}" ("{pattern}")', voice=each.voice, pattern=each.pattern)
                if each.pattern
                else tr_later('"{voice}" (its name)', voice=each.voice)
                for each in claims
            )
            problems.add(
                dotted("voices", claims[0].voice, "files"),
                tr_later(
                    '"{name}" is claimed by two voices, {voices: and }; narrow the patterns so '
                    "that one fits.",
                    name=name,
                    voices=said,
                ),
            )
    problems.raise_if_any()
    return tuple(
        _nothing_hit(voice, [p for p in patterns if p not in hit], there)
        for voice, patterns in names.patterns.items()
        if there and not hit.issuperset(patterns)
    )


def _nothing_hit(voice: str, patterns: Sequence[str], there: Iterable[str]) -> str:
    near = closest(patterns[0].replace("*", ""), sorted(there))
    guess = tr_later(' Did you mean "{near}"?', near=near) if near else ""
    return tr_later(
        "[{key}] files: no recording's name fits {patterns}. A pattern is held against the name "
        "without its ending; * stands for anything.{guess}",
        key=dotted("voices", voice),
        patterns=listed(patterns, join="or"),
        guess=guess,
    )
