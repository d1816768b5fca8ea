"""Options that several commands share."""

from __future__ import annotations

import inspect
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tonecompare.language import in_language, languages, tr, tr_later

if TYPE_CHECKING:
    from tonecompare.session.model import Session

_F = TypeVar("_F", bound=Callable[..., Any])

#: What a worker takes for an hour of stereo at 96 kHz, and twice what it takes for minutes.
_BYTES_PER_WORKER = 450 << 20
#: More than this many workers a core are only in each other's way; a thousand never come to work.
_MOST_PER_CORE = 8
#: Characters that some file system or shell does not take in a folder name.
_UNSAFE = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')


def cores() -> int:
    """Return how many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system tells
        return os.cpu_count() or 1


def workers_that_fit() -> int:
    """Return how many recordings may be measured at a time: one per core if memory allows."""
    found = [_number_in(Path("/sys/fs/cgroup/memory.max"), r"^(\d+)$")]
    available = _number_in(Path("/proc/meminfo"), r"MemAvailable:\s*(\d+) kB")
    found.append(None if available is None else 1024 * available)
    known = [each for each in found if each is not None]
    fitting = min(known) // _BYTES_PER_WORKER if known else cores()
    return max(1, min(cores(), fitting))


def _number_in(path: Path, pattern: str) -> int | None:
    try:
        match = re.search(pattern, path.read_text(encoding="ascii"))
    except OSError:  # not every system tells
        return None
    return int(match[1]) if match else None


def default_out(title: str) -> Path:
    """Return ``reports/<title>``, the title without characters a folder name cannot hold.

    Letters of every script are kept; a title of nothing else becomes ``report``.
    """
    name = re.sub(r"\s+", " ", _UNSAFE.sub("-", title)).strip(" .-")
    while len(name.encode()) > 200:
        name = name[:-1]
    return Path("reports") / (name or "report")


def _given_or_cores(_context: click.Context, _parameter: click.Parameter, value: int | None) -> int:
    if value is not None and value < 1:
        raise click.BadParameter(f"{value} is less than 1.")
    return workers_that_fit() if value is None else min(value, _MOST_PER_CORE * cores())


def _as_hz(_context: click.Context, _parameter: click.Parameter, value: str | None) -> float | None:
    return None if value is None else float(value)


def example(*lines: str) -> Callable[[_F], _F]:
    """Close a command's help with example command lines, which are not wrapped."""

    def add(function: _F) -> _F:
        heading = tr_later("Example:") if len(lines) == 1 else tr_later("Examples:")
        shown = "\n".join(f"  {line}" for line in lines)
        function.__doc__ = f"{inspect.cleandoc(function.__doc__ or '')}\n\n\b\n{heading}\n{shown}"
        return function

    return add


def workers_option(function: _F) -> _F:
    """Add ``--workers``."""
    return click.option(
        "--workers",
        type=int,
        metavar="N",
        callback=_given_or_cores,
        help="Recordings at a time (default: one per core, as far as the memory goes).",
    )(function)


def cluster_options(function: _F) -> _F:
    """Add ``--engine`` and ``--scheduler``; the command gets ``scheduler``, None for this computer.

    ``workers`` of this computer draw charts in any case.
    """

    def checked(context: click.Context, _parameter: click.Parameter, value: str | None) -> Any:
        dask = context.params.pop("engine", "here") == "dask"
        if dask and not value:
            raise click.UsageError(
                tr("--engine dask needs --scheduler ADDRESS, like tcp://HOST:8786: what "
                   "`dask scheduler` prints when it starts.")
            )  # fmt: skip
        if value and not dask:
            raise click.UsageError(tr("--scheduler is for --engine dask; give both or neither."))
        return value

    engine = click.option(
        "--engine",
        type=click.Choice(["here", "dask"]),
        default="here",
        is_eager=True,
        help="Measure here (default), or on a dask cluster whose workers see the files under the "
        "same path.",
    )
    scheduler = click.option(
        "--scheduler", metavar="ADDRESS", callback=checked, help="Where the cluster is reached."
    )
    return engine(scheduler(function))


def fresh_option(function: _F) -> _F:
    """Add ``--fresh``, which gives the command the user's store of measurements as ``store``."""

    def opened(context: click.Context, _parameter: click.Parameter, value: bool) -> Any:
        from tonecompare.cli.outcome import goes_on_from
        from tonecompare.kept.store import user_store

        store = user_store(fresh=value)
        goes_on_from(context, store)
        return store

    return click.option(
        "--fresh",
        "store",
        is_flag=True,
        callback=opened,
        help="Measure anew, not only what changed.",
    )(function)


def mains_option(function: _F) -> _F:
    """Add ``--mains``."""
    return click.option(
        "--mains",
        "mains_hz",
        type=click.Choice(["50", "60"]),
        callback=_as_hz,
        help="Mains frequency in Hz (default: found in each recording).",
    )(function)


def tuning_option(function: _F) -> _F:
    """Add ``--tuning``."""
    return click.option(
        "--tuning",
        metavar="NOTES",
        help="Open strings, lowest first: notes like B0,E1,A1,D2,G2 or a name: "
        "guitar, drop-d, seven-string, nylon, baritone, bass, "
        "five-string-bass (default: as session.toml says, else guitar).",
    )(function)


def language_option(function: _F) -> _F:
    """Add ``--language``."""
    return click.option(
        "--language",
        "spoken",
        type=click.Choice(languages()),
        help="Language of what is written (default: as session.toml says, else en).",
    )(function)


def speak(spoken: str | None, session: Session) -> None:
    """Say and write in the language asked for, or else the session's, until the command ends."""
    click.get_current_context().with_resource(in_language(spoken or session.language))


def progress_option(function: _F) -> _F:
    """Add ``--progress/--no-progress``."""
    return click.option(
        "--progress/--no-progress",
        default=None,
        help="Show progress (default: on a terminal).",
    )(function)


def report_options(function: _F) -> _F:
    """Add the options of the commands that write a report, and give them one order."""
    out = click.option(
        "--out",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="DIR",
        help="Folder for the report (default: reports/<title>).",
    )
    clips = click.option("--no-clips", is_flag=True, help="Leave out the sounds.")
    audio = click.option(
        "--audio",
        type=click.Choice(["inside", "beside"]),
        default="inside",
        help="Sounds in the page (default) or beside.",
    )
    sheet = click.option(
        "--sheet",
        "sheet_only",
        is_flag=True,
        help="Print the sheet only.",
    )
    show = click.option(
        "--show",
        "shown",
        multiple=True,
        metavar="NAME",
        help="Of many, show this guitar, stage or comparison in full.",
    )
    for option in (
        progress_option, fresh_option, cluster_options, workers_option, tuning_option, mains_option,
        language_option, show, sheet, clips, audio, out,
    ):  # fmt: skip
        function = option(function)
    return function
