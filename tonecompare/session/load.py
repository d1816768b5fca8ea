"""From folders to a :class:`Session`: a whole session folder, or just two stage folders."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.session.assemble import assemble
from tonecompare.session.choose import first_to_last
from tonecompare.session.folders import (
    AUDIO_SUFFIXES,
    FOREIGN_SUFFIXES,
    holds_audio,
    loose_audio,
    require_folder,
    sub_folders,
)
from tonecompare.session.model import ComparisonSpec, LeftOut, Session, Stage
from tonecompare.session.naming import clean_name, closest, listed, match_key
from tonecompare.session.sides import voices_sentence
from tonecompare.session.toml.read import SESSION_FILE, SessionFile, read_session_toml
from tonecompare.session.toml.schema import Problems, dotted


def load_session(folder: Path) -> Session:
    """Read a session folder.

    With ``session.toml`` the stages are those it names (all sub-folders with recordings, when it
    names none). Without it every sub-folder with recordings is a stage. Comparisons that nobody
    named are chosen as :func:`tonecompare.session.choose.choose_comparisons` says; what was
    chosen stands in ``remarks``.

    Parameters
    ----------
    folder
        The session folder; the path of its ``session.toml`` does as well.

    Raises
    ------
    InputError
        When the folder is missing, is a file, or holds no recording.
    SessionError
        When ``session.toml`` cannot be used.
    """
    folder = Path(folder)
    if folder.name == SESSION_FILE and folder.is_file():
        folder = folder.parent
    require_folder(folder)
    root = _absolute(folder)
    told = _told(root)
    stages, left_out = _stages(told, root)
    session = assemble(told, root, stages, left_out=left_out)
    if not session.recordings:
        raise InputError(_no_recordings(folder, session))
    return session


def session_from_pair(before: Path, after: Path) -> Session:
    """Make a session of two folders: what was recorded before, and what after.

    Voices are matched by file name. When both folders stand in one session folder, what its
    ``session.toml`` says of instruments, conditions, voices and hearing thresholds holds here
    too, and the control it names for just this comparison comes along.

    Parameters
    ----------
    before, after
        Stage folders. They may have the same name; their stages are then named after the folders
        above as well ("heron before", "wren before").

    Raises
    ------
    InputError
        When a folder is missing, is a file or is empty, when both are the same or one stands in
        the other, and when no voice is common to both (the message names the voices of each).
    SessionError
        When the ``session.toml`` above both cannot be used.
    """
    given = (Path(before), Path(after))
    for each in given:
        require_folder(each)
    _refuse_overlap(*given)
    for each in given:
        if not holds_audio(each):
            raise InputError(_no_recordings(each))
    first, second = _absolute(given[0]), _absolute(given[1])
    shared = first.parent if first.parent == second.parent else None
    told = _told(shared) if shared else SessionFile(first.parent / SESSION_FILE, "")
    stages = _stages_of(told, (first, second))
    names = list(stages)
    spec = _named_pair(told, names[0], names[1])
    for name in (spec.control_before, spec.control_after):
        if name is not None:
            control = told.stages.get(name, Stage(name, "", first.parent / name))
            stages[name] = _placed(control, first.parent)
    root = _common_root((first, second))
    session = assemble(told, root, stages, comparisons=(spec,), title=spec.name)
    if not session.common_voices(spec.before, spec.after):
        said = voices_sentence(session, spec.before, spec.after)
        raise InputError(
            f"{given[0]} and {given[1]} have no voice in common: {said}. Voices are matched by "
            "file name: give the two recordings of one voice the same name in both folders."
        )
    return session


def session_from_folders(folders: Sequence[Path]) -> Session:
    """Make a session of stage folders: one guitar alone, or several, each against the first.

    Parameters
    ----------
    folders
        Each holds a recording per voice. Of one folder nothing is compared here: its voices meet
        when they are measured.

    Raises
    ------
    InputError
        When a folder cannot be used, stands in another, or has no voice that the first has.
    """
    for each in folders:
        if not holds_audio(each):
            raise InputError(_no_recordings(each))
    for number, each in enumerate(folders):
        for other in folders[:number]:
            _refuse_overlap(other, each)
    homes = [_absolute(each) for each in folders]
    shared = homes[0].parent if len({home.parent for home in homes}) == 1 else None
    told = _told(shared) if shared else SessionFile(homes[0].parent / SESSION_FILE, "")
    stages = _stages_of(told, homes)
    first, *others = stages
    specs = tuple(_named_pair(told, first, other) for other in others)
    bare = [replace(spec, control_before=None, control_after=None) for spec in specs]
    title = f"{first} and {len(others)} more" if others else first
    session = assemble(told, _common_root(homes), stages, comparisons=bare, title=title)
    if others and not session.comparisons:
        raise InputError(" ".join(session.remarks))
    return session


def _told(root: Path) -> SessionFile:
    path = root / SESSION_FILE
    return read_session_toml(path) if path.is_file() else SessionFile(path, clean_name(root.name))


def _absolute(folder: Path) -> Path:
    """Return the absolute path without ``..``; links stay, so names in tables are the user's."""
    return Path(os.path.abspath(folder))  # noqa: PTH100 - Path.resolve would follow links


def _stages(told: SessionFile, root: Path) -> tuple[dict[str, Stage], list[LeftOut]]:
    """Return the stages with the folders they really have, and the audio that no stage claims."""
    audible = [path for path in sub_folders(root) if holds_audio(path)]
    left_out = [
        LeftOut(path.name, "Lies beside the stage folders; move it into the one it belongs to.")
        for path in loose_audio(root)
    ]
    if not told.stages:
        only = next(iter(told.instruments)) if len(told.instruments) == 1 else ""
        bare = [Stage(clean_name(path.name), only, path) for path in audible]
        return {stage.name: stage for stage in first_to_last(bare)}, left_out
    known = {match_key(name) for name in told.stages}
    unnamed = [path for path in audible if match_key(path.name) not in known]
    problems = Problems(told.path)
    stages = {name: _placed(stage, root) for name, stage in told.stages.items()}
    for name, stage in stages.items():
        near = closest(name, [path.name for path in unnamed], cutoff=0.75)
        if near is not None and not stage.folder.is_dir():
            problems.add(
                dotted("stages", name),
                f'there is no folder "{name}" beside the file. Did you mean "{near}"?',
            )
    problems.raise_if_any()
    left_out += [
        LeftOut(
            path.name,
            f"{SESSION_FILE} names no stage like this folder. Add "
            f"[{dotted('stages', path.name)}], or move the folder elsewhere.",
        )
        for path in unnamed
    ]
    return stages, left_out


def _placed(stage: Stage, root: Path) -> Stage:
    """Return the stage with the folder that carries its name, whatever upper case it has."""
    for path in sub_folders(root):
        if match_key(path.name) == match_key(stage.name):
            return replace(stage, folder=path)
    return stage


def _stages_of(told: SessionFile, folders: Sequence[Path]) -> dict[str, Stage]:
    names = [clean_name(folder.name) for folder in folders]
    above = [list(folder.parent.parts) for folder in folders]
    while len({match_key(name) for name in names}) < len(names) and any(above):
        for i, parts in enumerate(above):
            if parts:
                names[i] = f"{clean_name(parts.pop()).strip('/')} {names[i]}".strip()
    known = {match_key(name): stage for name, stage in told.stages.items()}
    stages = {}
    for name, folder in zip(names, folders, strict=True):
        stage = known.get(match_key(name))
        made = replace(stage, folder=folder) if stage else Stage(name, "", folder)
        stages[made.name] = made
    return stages


def _named_pair(told: SessionFile, before: str, after: str) -> ComparisonSpec:
    """Return the comparison of two stages, with the control that ``told`` names for it."""
    for spec in told.comparisons:
        if [match_key(spec.before), match_key(spec.after)] == [match_key(before), match_key(after)]:
            return replace(spec, before=before, after=after)
    return ComparisonSpec(before, after)


def _refuse_overlap(before: Path, after: Path) -> None:
    first, second = before.resolve(), after.resolve()
    if first == second or first.samefile(second):
        raise InputError(f"{before} was given twice; two different folders are needed.")
    for inner, outer in ((first, second), (second, first)):
        if inner.is_relative_to(outer):
            raise InputError(
                f"{inner} stands in {outer}; give two stage folders. A whole session folder is "
                "for the report command."
            )


def _common_root(folders: Sequence[Path]) -> Path:
    """Return the deepest folder above all; the first's on another drive has none in common."""
    try:
        return Path(os.path.commonpath([folder.parent for folder in folders]))
    except ValueError:
        return folders[0].parent


def _no_recordings(folder: Path, session: Session | None = None) -> str:
    """Return the sentence for a folder without usable recordings."""
    loose: Sequence[Path] = loose_audio(folder) if session is not None else ()
    if loose:
        return (
            f"{folder}: holds recordings ({listed([p.name for p in loose[:3]])}), but no stage "
            "folders. A session holds a folder per stage, and that the recordings."
        )
    if session is not None and session.left_out:
        first = session.left_out[0]
        return f"{folder}: holds no recording that can be used. {first.file}: {first.reason}"
    what = "no stage folder with recordings" if session is not None else "no recording"
    empty = "is empty" if not any(folder.iterdir()) else f"holds {what}"
    kinds = ", ".join(s for s in AUDIO_SUFFIXES if s in (".wav", ".flac", ".aiff", ".w64", ".caf"))
    foreign = _foreign(folder)
    tip = f" {foreign}" if foreign else f" Recordings are sound files ({kinds} and others)."
    return f"{folder}: {empty}.{tip}"


def _foreign(folder: Path) -> str:
    """Return a sentence when the folder holds sound files of a kind that cannot be read."""
    found = [p.name for p in sorted(folder.glob("*")) if p.suffix.lower() in FOREIGN_SUFFIXES]
    return f"{listed(found[:3])} cannot be read; export as WAV or FLAC." if found else ""
