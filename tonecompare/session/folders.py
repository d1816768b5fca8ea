"""Find the recordings in a stage folder: which file carries which voice.

A stage folder holds one file per voice (``neck.wav``), one voice in several files
(``neck.1.wav``, ``neck.2.wav``) or a folder per voice with a pluck per file (``neck/E2.1.wav``).
File names are only matched, never opened.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.session.model import LeftOut, Recording
from tonecompare.session.naming import clean_name, match_key, natural_key

#: Suffixes libsndfile reads, best first: of two files of one voice the earlier suffix is used.
AUDIO_SUFFIXES = (
    ".wav", ".wave", ".bwf", ".w64", ".rf64", ".flac", ".aif", ".aiff", ".aifc", ".caf", ".au",
    ".snd", ".sph", ".nist", ".voc", ".ogg", ".oga", ".opus", ".mp3",
)  # fmt: skip
#: Sound files that libsndfile cannot read.
FOREIGN_SUFFIXES = (
    ".m4a", ".m4b", ".mp4", ".aac", ".wma", ".wv", ".ape", ".alac", ".tta", ".dsf", ".dff", ".amr",
    ".ac3", ".mka", ".webm",
)  # fmt: skip
#: A folder that holds one of these was written by this program.
_OUTPUT_MARKS = ("summary.json", "differences.csv", "measurements.csv")
_OUTPUT_NAMES = frozenset({"reports", "__macosx"})

Name = Callable[[Path], str]


def find_recordings(
    folder: Path,
    *,
    stage: str = "",
    voices: Iterable[str] = (),
    name: Name | None = None,
) -> tuple[tuple[Recording, ...], tuple[LeftOut, ...]]:
    """Find the recordings of one stage.

    Parameters
    ----------
    folder
        The stage folder.
    stage
        Name of the stage; the folder's name when left out.
    voices
        Voices already known, in their own spelling; upper and lower case make no difference.
        A known voice may end in a number ("neck.2"), which otherwise counts the files of a voice.
    name
        How to name a file in what is left out; relative to ``folder`` when not given.

    Returns
    -------
    recordings
        One per voice, voices and files in natural order ("neck.2" before "neck.10").
    left_out
        Sound files that were not used, each with a sentence why.

    Raises
    ------
    InputError
        When ``folder`` is missing or no folder.
    """
    require_folder(folder)
    name = name or (lambda path: path.relative_to(folder).as_posix())
    known = {match_key(voice): clean_name(voice) for voice in voices}
    left_out: list[LeftOut] = []
    spelling: dict[str, str] = dict(known)
    loose: dict[str, list[Path]] = {}
    inside: dict[str, list[Path]] = {}
    for path in _entries(folder):
        if path.is_dir():
            files = _voice_folder(path, name, left_out)
            if files:
                voice = clean_name(path.name)
                spelling.setdefault(match_key(voice), voice)
                inside.setdefault(match_key(voice), []).extend(files)
        elif _usable(path, name, left_out):
            voice = _voice_of(path, known)
            spelling.setdefault(match_key(voice), voice)
            loose.setdefault(match_key(voice), []).append(path)
    found = []
    for key in sorted(loose.keys() | inside.keys(), key=natural_key):
        if key in loose:
            chosen = _one_each(loose[key], name, left_out, part_of=_part)
            left_out += [
                LeftOut(
                    name(path), f"The voice has a file of its own, {name(chosen[0])}; that is used."
                )
                for path in inside.get(key, ())
            ]
        else:
            chosen = _one_each(inside[key], name, left_out, part_of=lambda p: match_key(p.stem))
        found.append(Recording(stage or clean_name(folder.name), spelling[key], chosen))
    return tuple(found), tuple(left_out)


def holds_audio(folder: Path) -> bool:
    """Tell whether a folder, or a folder in it, holds a sound file: whether it can be a stage."""
    if not _is_source(folder):
        return False
    for path in _entries(folder):
        if path.is_dir():
            if _is_source(path) and any(is_audio(each) for each in _entries(path)):
                return True
        elif is_audio(path):
            return True
    return False


def is_audio(path: Path) -> bool:
    """Tell whether the name says that libsndfile reads this file."""
    return path.suffix.lower() in AUDIO_SUFFIXES and path.is_file()


def sub_folders(folder: Path) -> list[Path]:
    """Return the visible folders in a folder that are no output of this program."""
    return [path for path in _entries(folder) if path.is_dir() and _is_source(path)]


def loose_audio(folder: Path) -> list[Path]:
    """Return the sound files that lie directly in a folder."""
    return [path for path in _entries(folder) if not path.is_dir() and is_audio(path)]


def require_folder(folder: Path) -> None:
    """Raise :class:`InputError` with a clear sentence when this is no folder that can be read."""
    if not folder.exists():
        near = folder.parent
        there = "" if near.exists() else f" {near} does not exist either."
        raise InputError(f"{folder}: there is no such folder.{there}")
    if not folder.is_dir():
        tip = " Give the folder it lies in." if is_audio(folder) else ""
        raise InputError(f"{folder}: is a file; a folder of recordings is needed.{tip}")
    try:
        next(folder.iterdir(), None)
    except OSError as error:
        raise InputError(f"{folder}: cannot be opened: {error.strerror}.") from error


def _entries(folder: Path) -> list[Path]:
    """Return what stands in a folder in natural order, without hidden and resource-fork files."""
    try:
        visible = [path for path in folder.iterdir() if not path.name.startswith(".")]
    except OSError:
        return []
    return sorted(visible, key=lambda path: (natural_key(path.name), path.name))


def _is_source(folder: Path) -> bool:
    if match_key(folder.name) in _OUTPUT_NAMES:
        return False
    return not any((folder / mark).exists() for mark in _OUTPUT_MARKS)


def _usable(path: Path, name: Name, left_out: list[LeftOut]) -> bool:
    suffix = path.suffix.lower()
    if suffix in FOREIGN_SUFFIXES:
        left_out.append(
            LeftOut(name(path), f"{suffix} files cannot be read. Export it as WAV or FLAC.")
        )
    elif suffix in AUDIO_SUFFIXES and not path.is_file():
        left_out.append(LeftOut(name(path), "The link leads to no file."))
    return is_audio(path)


def _voice_folder(folder: Path, name: Name, left_out: list[LeftOut]) -> list[Path]:
    """Return the sound files in a voice folder; those in folders below it are left out."""
    if not _is_source(folder):
        return []
    files = []
    for path in _entries(folder):
        if path.is_dir():
            if _is_source(path):
                left_out += [
                    LeftOut(
                        name(each),
                        "Lies one folder too deep: stage folder, voice folder, file is the most.",
                    )
                    for each in _entries(path)
                    if is_audio(each)
                ]
        elif _usable(path, name, left_out):
            files.append(path)
    return files


def _voice_of(path: Path, known: Mapping[str, str]) -> str:
    stem = clean_name(path.stem)
    if match_key(stem) in known:
        return known[match_key(stem)]
    whole = re.fullmatch(r"(.+)\.\d{1,3}", stem)
    return whole[1] if whole else stem


def _part(path: Path) -> str:
    """Return what counts the files of one voice: "2" for neck.2.wav, "" for neck.wav."""
    number = re.fullmatch(r".+\.(\d{1,3})", path.stem)
    return str(int(number[1])) if number else ""


def _one_each(
    files: list[Path], name: Name, left_out: list[LeftOut], *, part_of: Callable[[Path], str]
) -> tuple[Path, ...]:
    """Keep one file of each part of a voice, the best suffix first; the others are left out."""
    kept: dict[str, Path] = {}
    by_suffix = sorted(files, key=lambda p: AUDIO_SUFFIXES.index(p.suffix.lower()))
    for path in by_suffix:
        part = part_of(path)
        if part not in kept:
            kept[part] = path
        else:
            left_out.append(
                LeftOut(
                    name(path),
                    f"{kept[part].name} beside it goes by the same name; that one is used. "
                    "Rename or remove one of the two.",
                )
            )
    return tuple(sorted(kept.values(), key=lambda p: (natural_key(p.stem), p.name)))
