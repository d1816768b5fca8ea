"""What somebody gave to compare, files or folders, as a session: no ``session.toml`` is needed."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr_later
from tonecompare.session.load import session_from_folders, session_from_pair
from tonecompare.session.model import ComparedSide, ComparisonSpec, Recording, Session, Stage
from tonecompare.session.naming import clean_name, did_you_mean, listed, match_key
from tonecompare.session.sound_folders import (
    AUDIO_SUFFIXES,
    HOW_TO_CONVERT,
    is_audio,
    no_file,
    require_folder,
)


def session_of_given(paths: Sequence[Path]) -> Session:
    """Return the session of what was given.

    Parameters
    ----------
    paths
        Two or more files: sounds, each against the first. One folder: one guitar, a file per
        voice; which voices meet is settled when they are measured. Two folders: two guitars or
        stages, voices matched by name. More: guitars, each against the first.

    Raises
    ------
    InputError
        When something is missing, files and folders are mixed, or nothing could be compared.
    """
    folders = [path for path in paths if path.is_dir()]
    files = [path for path in paths if path.is_file()]
    for path in paths:
        if path.suffix.lower() in AUDIO_SUFFIXES and not path.exists():
            beside = [each.name for each in path.parent.glob("*") if is_audio(each)]
            raise InputError(
                tr_later(
                    "{path}: there is no such file.{guess}",
                    path=str(path),
                    guess=did_you_mean(path.name, beside),
                )
            )
        if path.exists() and path not in (*folders, *files):
            raise no_file(path)
    if folders and files:
        raise InputError(
            tr_later(
                "{file} is a file and {folder} a folder; give files (two sounds) or folders (two "
                "guitars or stages).",
                file=str(files[0]),
                folder=str(folders[0]),
            )
        )
    if files and len(files) == len(paths):
        return _of_files(files)
    for path in paths:
        require_folder(path)
    if len(paths) == 2:
        return session_from_pair(*paths)
    session = session_from_folders(paths)
    if len(paths) == 1 and len(session.recordings) < 2:
        raise InputError(
            tr_later(
                "{folder} holds one voice ({voices}); its voices side by side take two or more, or "
                "give a second folder.",
                folder=str(paths[0]),
                voices=listed(r.voice for r in session.recordings),
            )
        )
    return session


def _of_files(files: Sequence[Path]) -> Session:
    """Return a session of sounds: folders are stages, file names voices."""
    if len(files) < 2:
        raise InputError(
            tr_later(
                "{file}: give a second file to compare it with, or a folder.", file=str(files[0])
            )
        )
    deaf = [path.name for path in files if not is_audio(path)]
    if deaf:
        raise InputError(
            tr_later("{names} cannot be read. {how}", names=listed(deaf), how=HOW_TO_CONVERT)
        )
    homes = list(dict.fromkeys(path.absolute().parent for path in files))
    names = _distinct(homes)
    recordings: dict[tuple[str, str], Recording] = {}
    for path in files:
        stage, voice = names[path.absolute().parent], clean_name(path.stem)
        if (stage, match_key(voice)) in recordings:
            raise InputError(
                tr_later("{path}: a sound of this name was given twice.", path=str(path))
            )
        recordings[stage, match_key(voice)] = Recording(stage, voice, (path.absolute(),))
    first, *others = recordings.values()
    comparisons = tuple(_spec(first, other) for other in others)
    return Session(
        title=comparisons[0].name.replace("/", " ") if len(others) == 1 else names[homes[0]],
        root=homes[0] if len(homes) == 1 else Path(os.path.commonpath(homes)),
        stages={names[home]: Stage(names[home], "", home) for home in homes},
        recordings=tuple(recordings.values()),
        comparisons=comparisons,
    )


def _spec(first: Recording, other: Recording) -> ComparisonSpec:
    if first.voice == other.voice:
        return ComparisonSpec(first.stage, other.stage)
    one, two = (ComparedSide(each.stage, each.voice) for each in (first, other))
    return ComparisonSpec(one.name, two.name)


def _distinct(homes: Sequence[Path]) -> dict[Path, str]:
    """Name folders by their own names, with those above where these are the same."""
    names = {home: clean_name(home.name) or "recordings" for home in homes}
    above = {home: list(home.parent.parts) for home in homes}
    while len(set(names.values())) < len(homes) and any(above.values()):
        for home, parts in above.items():
            if parts:
                names[home] = f"{clean_name(parts.pop()).strip('/')} {names[home]}".strip()
    return names
