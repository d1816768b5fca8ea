"""The command to type next, quoted as the shell wants it."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
from pathlib import Path

from tonecompare.cli.shown.terminal import to_stderr, written_out
from tonecompare.language import tr


def command_line(*words: str | Path) -> str:
    """Return words as one line that a shell splits into these words again.

    Letters of every script stand as they are; a path that begins with a dash gets "./" before it.

    Examples
    --------
    >>> command_line("check", Path("Überholt"), "--stage", "as delivered")
    "tonecompare check Überholt --stage 'as delivered'"
    """
    texts = [
        f".{os.sep}{word}" if isinstance(word, Path) and str(word).startswith("-") else str(word)
        for word in words
    ]
    if os.name == "nt":
        return subprocess.list2cmdline(["tonecompare", *texts])
    return " ".join(["tonecompare", *(_quoted(text) for text in texts)])


def _quoted(text: str) -> str:
    return text if re.fullmatch(r"[\w@%+=:,./-]+", text) else shlex.quote(text)


def say_next(*words: str | Path, when: str = "") -> None:
    """Say on stderr which command comes next; ``when`` says after what.

    Nothing is said where a name holds characters that no command line shows.
    """
    line = command_line(*words)
    if written_out(line) == line and "\n" not in line:
        if when:
            said = tr("Next, {when}: {command}", when=written_out(when), command=line)
        else:
            said = tr("Next: {command}", command=line)
        to_stderr(said)
