"""Find the recordings in a stage folder: which file carries which voice.

A stage folder holds one file per voice (``neck.wav``), one voice in several files
(``neck.1.wav``, ``neck.2.wav``) or a folder per voice with a pluck per file (``neck/E2.1.wav``).
File names are only matched, never opened.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Mapping
from functools import partial
from pathlib import Path

from tonecompare.language import tr_later
from tonecompare.session.model import LeftOut, Recording
from tonecompare.session.naming import clean_name, match_key, natural_key
from tonecompare.session.sound_folders import (
    AUDIO_SUFFIXES,
    FOREIGN_SUFFIXES,
    HOW_TO_CONVERT,
    entries,
    is_audio,
    is_source,
    no_file,
    require_folder,
)
from tonecompare.session.voice_files import VoiceFiles, voice_of_pluck

Name = Callable[[Path], str]


def find_recordings(
    folder: Path,
    *,
    stage: str = "",
    voices: Iterable[str] = (),
    name: Name | None = None,
    names: VoiceFiles | None = None,
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
    names
        Which names mean which voice beyond their own; nothing more when left out.

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
    names = names or VoiceFiles()
    left_out: list[LeftOut] = []
    spelling: dict[str, str] = dict(known)
    loose: dict[str, list[Path]] = {}
    inside: dict[str, list[Path]] = {}
    for path in entries(folder):
        if path.is_dir():
            files = _voice_folder(path, name, left_out)
            if files:
                voice = names.voice_of(path.name) or clean_name(path.name)
                spelling.setdefault(match_key(voice), voice)
                inside.setdefault(match_key(voice), []).extend(files)
        elif _usable(path, name, left_out):
            voice = names.voice_of(path.stem) or _voice_of(path, known)
            spelling.setdefault(match_key(voice), voice)
            loose.setdefault(match_key(voice), []).append(path)
    found = []
    for key in sorted(loose.keys() | inside.keys(), key=natural_key):
        if key in loose:
            chosen = _one_each(
                loose[key], name, left_out, part_of=partial(_part, names=names, known=known)
            )
            left_out += [
                LeftOut(
                    name(path),
                    tr_later(
                        "The voice has a file of its own, {file}; that is used.",
                        file=name(chosen[0]),
                    ),
                )
                for path in inside.get(key, ())
            ]
        else:
            chosen = _one_each(inside[key], name, left_out, part_of=lambda p: match_key(p.stem))
        found.append(Recording(stage or clean_name(folder.name), spelling[key], chosen))
    return tuple(found), tuple(left_out)


def _usable(path: Path, name: Name, left_out: list[LeftOut]) -> bool:
    suffix = path.suffix.lower()
    if suffix in FOREIGN_SUFFIXES:
        why = tr_later("Files of this kind cannot be read. {how}", how=HOW_TO_CONVERT)
        left_out.append(LeftOut(name(path), why))
    elif suffix in AUDIO_SUFFIXES and not path.is_file():
        gone = path.is_symlink() and not path.exists()
        why = tr_later("The link leads to no file.") if gone else no_file(path).as_sentences
        left_out.append(LeftOut(name(path), why))
    return is_audio(path)


def _voice_folder(folder: Path, name: Name, left_out: list[LeftOut]) -> list[Path]:
    """Return the sound files in a voice folder; those in folders below it are left out."""
    if not is_source(folder):
        return []
    files = []
    for path in entries(folder):
        if path.is_dir():
            if is_source(path):
                left_out += [
                    LeftOut(
                        name(each),
                        tr_later(
                            "Lies one folder too deep: stage folder, voice folder, file is the "
                            "most. Move it up into {folder}.",
                            folder=folder.name,
                        ),
                    )
                    for each in entries(path)
                    if is_audio(each)
                ]
        elif _usable(path, name, left_out):
            files.append(path)
    return files


def _voice_of(path: Path, known: Mapping[str, str]) -> str:
    stem = clean_name(path.stem)
    if match_key(stem) in known:
        return known[match_key(stem)]
    voice = voice_of_pluck(stem, known)
    if voice is not None:
        return known.get(match_key(voice), voice)
    whole = re.fullmatch(r"(.+)\.\d{1,3}", stem)
    return whole[1] if whole else stem


def _part(path: Path, names: VoiceFiles, known: Container[str]) -> str:
    """Return what counts the files of one voice: "2" for neck.2.wav, "" for neck.wav."""
    if names.claims(path.stem) or voice_of_pluck(path.stem, known) is not None:
        return match_key(path.stem)
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
                    tr_later(
                        "{file} beside it goes by the same name; that one is used. Rename or "
                        "remove one of the two.",
                        file=kept[part].name,
                    ),
                )
            )
    return tuple(sorted(kept.values(), key=lambda p: (natural_key(p.stem), p.name)))
