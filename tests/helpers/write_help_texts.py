"""Write down what ``--help`` prints: ``python tests/helpers/write_help_texts.py``."""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

from tonecompare.cli import help_at_once
from tonecompare.cli.app import main
from tonecompare.language import languages

FOLDER = Path(help_at_once.__file__).parent


def clicks_own(command: str, columns: int, code: str = "en") -> str:
    """Return what Click prints for ``tonecompare COMMAND --help`` on a terminal of some width."""
    shown = io.StringIO()
    with patch.dict(os.environ, COLUMNS=str(columns)), contextlib.redirect_stdout(shown):
        main.main(
            ["--language", code, *command.split(), "--help"],
            prog_name="tonecompare",
            standalone_mode=False,
        )
    return shown.getvalue()


def texts(code: str) -> Iterator[tuple[int, str, str]]:
    """Yield columns, command and its help."""
    for columns in help_at_once.WIDTHS:
        for command in ("", *sorted(main.commands)):
            yield columns, command, clicks_own(command, columns, code)


def whole(code: str) -> str:
    """Return what the file of a language is to hold."""
    return "".join(
        f"{help_at_once.MARK}{columns} {command}\n{text}" for columns, command, text in texts(code)
    )


if __name__ == "__main__":
    for language in languages():
        path = FOLDER / help_at_once.file_name(language)
        path.write_text(whole(language), encoding="utf-8")
