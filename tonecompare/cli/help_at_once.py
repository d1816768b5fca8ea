"""Help without Click: what ``--help`` prints, written down for the usual terminals.

Loading Click and the commands takes four times what a bare interpreter does. ``help_texts.txt``
holds what they print at the widths of nearly every terminal, ``help_texts_de.txt`` what they print
in German, a test holds them equal to that, and ``python tests/helpers/write_help_texts.py`` writes
them. Any other call is Click's to answer.
"""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False  # see tonecompare.lazy
if TYPE_CHECKING:
    from collections.abc import Sequence

#: Columns that the texts are wrapped for; wider terminals get what the widest gets.
WIDTHS = (80, 88)
#: What asks for help.
ASKING = ("--help", "-h")
#: Asks for a language, as an option or as an option and its value.
LANGUAGE = "--language"
#: Stands before every text, followed by columns and command on a line.
MARK = "\f"


def help_at_once(arguments: Sequence[str]) -> bool:
    """Print the help that is asked for, if it is written down.

    Parameters
    ----------
    arguments
        The command line without the program's name.

    Returns
    -------
    bool
        Whether it was help, and printed.
    """
    code, rest = _language(arguments)
    if not 1 <= len(rest) <= 2 or rest[-1] not in ASKING:
        return False
    encoding = (getattr(sys.stdout, "encoding", None) or "").lower()
    if encoding != "utf-8" or "_TONECOMPARE_COMPLETE" in os.environ:
        return False
    text = _written_down(" ".join(rest[:-1]), _columns(), code)
    if text is None:
        return False
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        from tonecompare.cli.outcome import end_without_stdout

        end_without_stdout(error)
    return True


def _language(arguments: Sequence[str]) -> tuple[str, list[str]]:
    """Return the language asked for, "" where none is, and what else was given."""
    rest = list(arguments)
    for number, each in enumerate(rest):
        if each == LANGUAGE and number + 1 < len(rest):
            return rest[number + 1], rest[:number] + rest[number + 2 :]
        if each.startswith(LANGUAGE + "="):
            return each[len(LANGUAGE) + 1 :], rest[:number] + rest[number + 1 :]
    return "", rest


def file_name(code: str) -> str:
    """Return the name of the file of a language's texts; English is "" or "en"."""
    return "help_texts.txt" if code in ("", "en") else f"help_texts_{code}.txt"


def _columns() -> int:
    """Return the columns of the terminal as :func:`shutil.get_terminal_size` finds them."""
    told = os.environ.get("COLUMNS", "")
    if told.isascii() and told.isdigit() and int(told) > 0:
        return int(told)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or WIDTHS[0]  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # no terminal
        return WIDTHS[0]


def _written_down(command: str, columns: int, code: str) -> str | None:
    """Return the help of a command ("" for the program) at a width; None if not written down."""
    if not (code.isascii() and code.isalpha()) and code:
        return None
    head = f"{MARK}{min(columns, WIDTHS[-1])} {command}\n"
    path = os.path.join(os.path.dirname(__file__), file_name(code))  # noqa: PTH118, PTH120
    try:
        with open(path, encoding="utf-8") as file:  # noqa: PTH123 - pathlib takes longer
            _, found, rest = file.read().partition(head)
    except FileNotFoundError:  # no such language
        return None
    return rest.partition(MARK)[0] if found else None
