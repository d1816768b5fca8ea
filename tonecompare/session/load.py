"""From folders to a :class:`Session`: a whole session folder, or just two stage folders."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr_later
from tonecompare.session.assemble import assemble
from tonecompare.session.choose import first_to_last
from tonecompare.session.model import ComparisonSpec, LeftOut, Session, Stage
from tonecompare.session.naming import clean_name, closest, listed, match_key
from tonecompare.session.sides import no_common_voice
from tonecompare.session.sound_folders import (
    foreign_audio,
    holds_audio,
    loose_audio,
    no_recordings,
    refuse_output,
    require_folder,
    stages_within,
    sub_folders,
)
from tonecompare.session.toml.read import SESSION_FILE, SessionFile, read_session_toml
from tonecompare.session.toml.schema import Problems, dotted
from tonecompare.session.toml.text import refuse_what_is_no_file


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
    refuse_output(folder)
    root = _absolute(folder)
    told = _told(root)
    stages, left_out, notices = _stages(told, root)
    session = assemble(told, root, stages, left_out=left_out, notices=notices)
    if not session.recordings:
        raise InputError(no_recordings(folder, session.left_out))
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
    told, (first, second), notices = _given_stages(given)
    stages = _stages_of(told, (first, second))
    names = list(stages)
    spec = _named_pair(told, names[0], names[1])
    for name in (spec.control_before, spec.control_after):
        if name is not None:
            control = told.stages.get(name, Stage(name, "", first.parent / name))
            stages[name] = _placed(control, first.parent)
    root = _common_root((first, second))
    session = assemble(told, root, stages, comparisons=(spec,), title=spec.name, notices=notices)
    if not session.common_voices(spec.before, spec.after):
        raise InputError(
            tr_later(
                "{one} and {other} have no voice in common: {why}",
                one=str(given[0]),
                other=str(given[1]),
                why=no_common_voice(session, spec.before, spec.after),
            )
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
    told, homes, notices = _given_stages(folders)
    stages = _stages_of(told, homes)
    first, *others = stages
    specs = tuple(_named_pair(told, first, other) for other in others)
    bare = [replace(spec, control_before=None, control_after=None) for spec in specs]
    title = tr_later("{stage} and {n} more", stage=first, n=len(others)) if others else first
    session = assemble(
        told, _common_root(homes), stages, comparisons=bare, title=title, notices=notices
    )
    if others and not session.comparisons:
        raise InputError(" ".join(session.remarks))
    return session


def _given_stages(given: Sequence[Path]) -> tuple[SessionFile, list[Path], list[str]]:
    """Return what is told of the folders given, the stage folders meant, and what to say of it."""
    for number, each in enumerate(given):
        require_folder(each)
        for other in given[:number]:
            _refuse_overlap(other, each)
    meant, notices = [], []
    for each in given:
        if not holds_audio(each):
            raise InputError(no_recordings(each, stage=True))
        inner = stages_within(each)
        if len(inner) > 1:
            raise InputError(
                tr_later(
                    "{folder} holds stage folders ({names}), not the recordings of one stage. Give "
                    "one of them, like {first}, or all of them: tonecompare report {folder}",
                    folder=str(each),
                    names=listed(path.name for path in inner),
                    first=str(inner[0]),
                )
            )
        if inner:
            notices.append(
                tr_later(
                    "{folder} holds one stage folder, {name}: it was taken.",
                    folder=str(each),
                    name=listed([inner[0].name]),
                )
            )
        meant.append(_absolute(inner[0] if inner else each))
    parents = {_absolute(each).parent for each in given}
    alone = SessionFile(meant[0].parent / SESSION_FILE, "")
    return _told(parents.pop()) if len(parents) == 1 else alone, meant, notices


def _told(root: Path) -> SessionFile:
    path = root / SESSION_FILE
    if path.is_file():
        return read_session_toml(path)
    refuse_what_is_no_file(path)
    return SessionFile(path, clean_name(root.name))


def _absolute(folder: Path) -> Path:
    """Return the absolute path without ``..``; links stay, so names in tables are the user's."""
    return Path(os.path.abspath(folder))  # noqa: PTH100 - Path.resolve would follow links


def _stages(
    told: SessionFile, root: Path
) -> tuple[dict[str, Stage], list[LeftOut], tuple[str, ...]]:
    """Return the stages with the folders they really have, and the audio that no stage claims."""
    inner = {path: stages_within(path, told.voices) for path in sub_folders(root)}
    audible = [
        stage
        for path, within in inner.items()
        for stage in within or [path]
        if holds_audio(stage) or (not told.stages and foreign_audio(stage))
    ]
    left_out = [
        LeftOut(
            path.name,
            tr_later("Lies beside the stage folders; move it into the one it belongs to."),
        )
        for path in loose_audio(root)
    ]
    if not told.stages:
        return _stages_untold(told, audible), left_out, _nested(inner)
    known = {match_key(name) for name in told.stages}
    unnamed = [
        path
        for path in audible
        if known.isdisjoint(match_key(p.name) for p in (path, path.parent) if p != root)
    ]
    stages = _stages_told(told, root, inner, (*inner, *audible), unnamed)
    left_out += [
        LeftOut(
            path.relative_to(root).as_posix(),
            tr_later(
                "{file} names no stage like this folder. Add [{key}], or move the folder "
                "elsewhere.",
                file=SESSION_FILE,
                key=dotted("stages", path.name),
            ),
        )
        for path in unnamed
    ]
    return stages, left_out, ()


def _stages_untold(told: SessionFile, audible: Sequence[Path]) -> dict[str, Stage]:
    """Return a stage for each folder with recordings, of the one instrument where one is told."""
    only = next(iter(told.instruments)) if len(told.instruments) == 1 else ""
    names = _names_of(audible)
    bare = [Stage(names[path], only, path) for path in audible]
    return {stage.name: stage for stage in first_to_last(bare)}


def _nested(inner: Mapping[Path, Sequence[Path]]) -> tuple[str, ...]:
    """Say which folders' inner folders were taken as the stages."""
    nested = [path.name for path, within in inner.items() if within]
    if not nested:
        return ()
    return (
        tr_later(
            "{names} holds folders with voices in them, so these inner folders were taken as "
            "the stages. If they are voices with a pluck per file, name the files after the "
            "notes (neck/E2.1.wav).",
            names=listed(nested),
        )
        if len(nested) == 1
        else tr_later(
            "{names} hold folders with voices in them, so these inner folders were taken as "
            "the stages. If they are voices with a pluck per file, name the files after the "
            "notes (neck/E2.1.wav).",
            names=listed(nested),
        ),
    )


def _stages_told(
    told: SessionFile,
    root: Path,
    inner: Mapping[Path, Sequence[Path]],
    folders: Iterable[Path],
    unnamed: Sequence[Path],
) -> dict[str, Stage]:
    """Return the stages that the file names with their folders, each told apart by its name.

    Raises
    ------
    SessionError
        When a name means several folders, or none though one beside it reads nearly like it.
    """
    by_key: dict[str, list[Path]] = {}
    for path in dict.fromkeys(folders):
        by_key.setdefault(match_key(path.name), []).append(path)
    problems = Problems(told.path)
    stages = {}
    for name, stage in told.stages.items():
        homes = by_key.get(match_key(name), [])
        if len(homes) > 1:
            problems.add(
                dotted("stages", name),
                tr_later(
                    "two folders have this name: {paths: and }.",
                    paths=tuple(path.relative_to(root).as_posix() for path in homes),
                ),
            )
        within = [path for home in homes for path in inner.get(home, ())]
        if len(within) > 1:
            said = listed(path.name for path in within)
            problems.add(
                dotted("stages", name),
                tr_later("holds stage folders ({names}); name these.", names=said),
            )
        stages[name] = replace(stage, folder=(within or homes)[0]) if homes else stage
        near = None if homes else closest(name, [path.name for path in unnamed], cutoff=0.75)
        if near is not None:
            problems.add(
                dotted("stages", name),
                tr_later(
                    'there is no folder "{name}" beside the file. Did you mean "{near}"?',
                    name=name,
                    near=near,
                ),
            )
    problems.raise_if_any()
    return stages


def _names_of(folders: Sequence[Path]) -> dict[Path, str]:
    """Name stage folders, those of one name with the folder above too."""
    alike = Counter(match_key(path.name) for path in folders)
    return {
        path: clean_name(
            path.name if alike[match_key(path.name)] == 1 else f"{path.parent.name} {path.name}"
        )
        for path in folders
    }


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
        raise InputError(
            tr_later(
                "{folder} was given twice; two different folders are needed.", folder=str(before)
            )
        )
    for inner, outer in ((first, second), (second, first)):
        if inner.is_relative_to(outer):
            raise InputError(
                tr_later(
                    "{inner} stands in {outer}; give two stage folders. A whole session folder is "
                    "for the report command.",
                    inner=str(inner),
                    outer=str(outer),
                )
            )


def _common_root(folders: Sequence[Path]) -> Path:
    """Return the deepest folder above all; the first's on another drive has none in common."""
    try:
        return Path(os.path.commonpath([folder.parent for folder in folders]))
    except ValueError:
        return folders[0].parent
