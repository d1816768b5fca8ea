"""Which folders hold sound files, and which files libsndfile reads: names only."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from tonecompare.errors import InputError, RecordingError
from tonecompare.language import tr_later
from tonecompare.session.model import LeftOut
from tonecompare.session.naming import listed, match_key, natural_key
from tonecompare.session.voice_files import is_voice_name

#: Suffixes libsndfile reads, best first: of two files of one voice the earlier suffix is used.
AUDIO_SUFFIXES = (
    ".wav", ".wave", ".bwf", ".w64", ".rf64", ".flac", ".aif", ".aiff", ".aifc", ".caf", ".au",
    ".snd", ".sph", ".nist", ".voc", ".ogg", ".oga", ".opus", ".mp3",
)  # fmt: skip
#: Sound files, and films with sound, that libsndfile cannot read.
FOREIGN_SUFFIXES = (
    ".m4a", ".m4b", ".mp4", ".aac", ".wma", ".wv", ".ape", ".alac", ".tta", ".dsf", ".dff", ".amr",
    ".ac3", ".mka", ".webm", ".mov", ".qt", ".mkv", ".avi", ".m4v", ".m4r", ".3gp", ".3ga", ".wmv",
    ".mpg", ".mpeg", ".mp2", ".flv", ".asf", ".ra", ".mts",
)  # fmt: skip
#: What to do with one of them.
HOW_TO_CONVERT = tr_later(
    "Open it in any audio editor (a phone's recorder or a film player will do if it can export "
    "sound), choose export or save as, WAV, 24 bit, at the sample rate it has, and put that file "
    "in its place."
)
#: A folder whose summary says so was written by this program. Tables may be anybody's own, made
#: with ``measure --csv``, and other programs write summaries too.
_SUMMARY, _MADE_BY_US = "summary.json", b'"made_by": "tonecompare'
_OUTPUT_NAMES = frozenset({"reports", "__macosx"})


def no_file(path: Path) -> RecordingError:
    """Return the error of a pipe or a device: it might never end."""
    return RecordingError(
        path,
        tr_later("is a pipe or a device, not a file"),
        tr_later("Record to a file and give that."),
    )


def holds_audio(folder: Path) -> bool:
    """Tell whether a folder, or a folder in it, holds a sound file: whether it can be a stage."""
    if not is_source(folder):
        return False
    for path in entries(folder):
        if path.is_dir():
            if is_source(path) and any(is_audio(each) for each in entries(path)):
                return True
        elif is_audio(path):
            return True
    return False


def foreign_audio(folder: Path) -> list[Path]:
    """Return the files directly in a folder that hold sound and cannot be read."""
    return [p for p in entries(folder) if p.suffix.lower() in FOREIGN_SUFFIXES and p.is_file()]


def stages_within(folder: Path, voices: Iterable[str] = ()) -> list[Path]:
    """Return the stage folders in a folder that is none itself: a day, a guitar, a project.

    ``day/stage/bridge.wav`` and ``stage/bridge/E2.1.wav`` are alike in shape. The first is meant
    where no sound lies beside the inner folders, none of these is named like a voice, and in each
    at least one file is; ``voices`` are those known by name.
    """
    if not is_source(folder) or loose_audio(folder):
        return []
    known = {match_key(voice) for voice in voices}

    def is_voice(name: str) -> bool:
        return is_voice_name(name) or match_key(name) in known

    inner = [path for path in sub_folders(folder) if loose_audio(path)]
    stages = all(
        not is_voice(path.name) and any(is_voice(each.stem) for each in loose_audio(path))
        for path in inner
    )
    return inner if stages else []


def deeper(folder: Path, *, stage: bool) -> Path | None:
    """Return the first folder below this one, at most six down, that is a stage, or a session."""

    def fits(path: Path) -> bool:
        return holds_audio(path) if stage else any(map(_is_stage, sub_folders(path)))

    level = [folder]
    for _ in range(6):
        level = [inner for path in level for inner in sub_folders(path)][:999]
        found = next((path for path in level if fits(path)), None)
        if found is not None:
            return found
    return None


def _is_stage(folder: Path) -> bool:
    return holds_audio(folder) or bool(stages_within(folder))


def is_audio(path: Path) -> bool:
    """Tell whether the name says that libsndfile reads this file."""
    return path.suffix.lower() in AUDIO_SUFFIXES and path.is_file()


def sub_folders(folder: Path) -> list[Path]:
    """Return the visible folders in a folder that are no output of this program."""
    return [path for path in entries(folder) if path.is_dir() and is_source(path)]


def loose_audio(folder: Path) -> list[Path]:
    """Return the sound files that lie directly in a folder."""
    return [path for path in entries(folder) if not path.is_dir() and is_audio(path)]


def require_folder(folder: Path) -> None:
    """Raise :class:`InputError` with a clear sentence when this is no folder that can be read."""
    if not folder.exists():
        near = folder.parent
        if near.exists():
            raise InputError(tr_later("{folder}: there is no such folder.", folder=str(folder)))
        raise InputError(
            tr_later(
                "{folder}: there is no such folder. {above} does not exist either.",
                folder=str(folder),
                above=str(near),
            )
        )
    if not folder.is_dir():
        raise InputError(
            tr_later(
                "{folder}: is a file; a folder of recordings is needed. Give the folder it lies "
                "in.",
                folder=str(folder),
            )
            if is_audio(folder)
            else tr_later(
                "{folder}: is a file; a folder of recordings is needed.", folder=str(folder)
            )
        )
    try:
        next(folder.iterdir(), None)
    except OSError as error:
        raise InputError(
            tr_later("{folder}: cannot be opened: {why}.", folder=str(folder), why=error.strerror)
        ) from error


def entries(folder: Path) -> list[Path]:
    """Return what stands in a folder in natural order, without hidden and resource-fork files."""
    try:
        visible = [path for path in folder.iterdir() if not path.name.startswith(".")]
    except OSError:
        return []
    return sorted(visible, key=lambda path: (natural_key(path.name), path.name))


def is_source(folder: Path) -> bool:
    """Tell whether a folder is the user's, none that this program or an archiver wrote."""
    if match_key(folder.name) in _OUTPUT_NAMES:
        return False
    if folder.is_symlink() and folder.parent.resolve().is_relative_to(folder.resolve()):
        return False  # leads back to where it stands: the same recordings over and over
    return not _is_output(folder)


def _is_output(folder: Path) -> bool:
    summary = folder / _SUMMARY
    try:
        # Path's own check raises in a folder that may not be read, and would blame a file in it.
        if not os.path.isfile(summary):  # noqa: PTH113
            return False
        with summary.open("rb") as file:
            return _MADE_BY_US in file.read(200)
    except OSError:
        return False


def refuse_output(folder: Path) -> None:
    """Raise :class:`InputError` where a report, check or set of clips is given as a session."""
    if _is_output(folder):
        raise InputError(
            tr_later(
                "{folder}: was written by tonecompare, it is no session. Give the folder of the "
                "recordings.",
                folder=str(folder),
            )
        )


def no_recordings(folder: Path, left_out: Sequence[LeftOut] = (), *, stage: bool = False) -> str:
    """Return the sentence for a folder without usable recordings: what it holds, what to do.

    ``left_out`` is what was found and cannot be used; ``stage`` says that one stage was asked for,
    no session.
    """
    loose = [] if stage else loose_audio(folder)
    if loose:
        return tr_later(
            "{folder}: holds recordings ({names}), but no stage folders. A session holds a folder "
            "per stage, and that the recordings. For the voices of one guitar side by side: "
            "tonecompare compare {folder}",
            folder=str(folder),
            names=listed([p.name for p in loose[:3]]),
        )
    if left_out:
        first = left_out[0]
        told = {"folder": str(folder), "file": first.file, "reason": first.reason}
        if len(left_out) > 1:
            return tr_later(
                "{folder}: holds no recording that can be used. {file} and {n} more: {reason}",
                **told,
                n=len(left_out) - 1,
            )
        return tr_later("{folder}: holds no recording that can be used. {file}: {reason}", **told)
    deep = deeper(folder, stage=stage)
    foreign = foreign_audio(folder)
    if not any(folder.iterdir()):
        said = tr_later("{folder}: is empty.", folder=str(folder))
    elif stage:
        said = tr_later("{folder}: holds no recording.", folder=str(folder))
    else:
        said = tr_later("{folder}: holds no stage folder with recordings.", folder=str(folder))
    if deep is not None:
        return tr_later("{said} Recordings lie deeper: give {deep}", said=said, deep=str(deep))
    if foreign:
        return tr_later(
            "{said} {names} cannot be read. {how}",
            said=said,
            names=listed([p.name for p in foreign[:3]]),
            how=HOW_TO_CONVERT,
        )
    kinds = ", ".join(s for s in AUDIO_SUFFIXES if s in (".wav", ".flac", ".aiff", ".w64", ".caf"))
    return tr_later(
        "{said} Recordings are sound files ({kinds} and others).", said=said, kinds=kinds
    )
