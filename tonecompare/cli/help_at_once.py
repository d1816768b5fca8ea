"""Help without Click: what ``--help`` prints, written down for the usual terminals.

Loading Click and the commands takes four times what a bare interpreter does. ``help_texts.txt``
holds what they print at the widths of nearly every terminal, a test holds it equal to that, and
``python tests/helpers/write_help_texts.py`` writes it. Any other call is Click's to answer.
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
    if not 1 <= len(arguments) <= 2 or arguments[-1] not in ASKING:
        return False
    encoding = (getattr(sys.stdout, "encoding", None) or "").lower()
    if encoding != "utf-8" or "_TONECOMPARE_COMPLETE" in os.environ:
        return False
    text = _written_down(" ".join(arguments[:-1]), _columns())
    if text is None:
        return False
    sys.stdout.write(text)
    return True


def _columns() -> int:
    """Return the columns of the terminal as :func:`shutil.get_terminal_size` finds them."""
    told = os.environ.get("COLUMNS", "")
    if told.isascii() and told.isdigit() and int(told) > 0:
        return int(told)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or WIDTHS[0]  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # no terminal
        return WIDTHS[0]


def _written_down(command: str, columns: int) -> str | None:
    """Return the help of a command ("" for the program) at a width; None if not written down."""
    head = f"{MARK}{min(columns, WIDTHS[-1])} {command}\n"
    path = os.path.join(os.path.dirname(__file__), "help_texts.txt")  # noqa: PTH118, PTH120
    with open(path, encoding="utf-8") as file:  # noqa: PTH123 - pathlib takes longer than the rest
        _, found, rest = file.read().partition(head)
    return rest.partition(MARK)[0] if found else None
