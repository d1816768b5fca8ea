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

FILE = Path(help_at_once.__file__).with_name("help_texts.txt")


def clicks_own(command: str, columns: int) -> str:
    """Return what Click prints for ``tonecompare COMMAND --help`` on a terminal of some width."""
    shown = io.StringIO()
    with patch.dict(os.environ, COLUMNS=str(columns)), contextlib.redirect_stdout(shown):
        main.main([*command.split(), "--help"], prog_name="tonecompare", standalone_mode=False)
    return shown.getvalue()


def texts() -> Iterator[tuple[int, str, str]]:
    """Yield columns, command and its help."""
    for columns in help_at_once.WIDTHS:
        for command in ("", *sorted(main.commands)):
            yield columns, command, clicks_own(command, columns)


def whole() -> str:
    """Return what the file is to hold."""
    return "".join(
        f"{help_at_once.MARK}{columns} {command}\n{text}" for columns, command, text in texts()
    )


if __name__ == "__main__":
    FILE.write_text(whole(), encoding="utf-8")
