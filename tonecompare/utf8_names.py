"""File names in UTF-8, where the locale says that letters beyond ASCII do not exist.

Under ``LC_ALL=C`` Python reads names as UTF-8 unless it is told not to (``PYTHONUTF8=0``). Then a
folder "Möwe" has no name that could be written into a page, and a voice "brücke" that
``session.toml`` names cannot be opened. Bytes above 127 mean nothing in ASCII, so nothing is lost
when the program starts over with UTF-8 names.
"""

from __future__ import annotations

import os
import sys


def start_over_if_names_are_ascii() -> None:
    """Replace this process by the same program with UTF-8 names, if its names are ASCII.

    What goes to the terminal keeps its encoding: there letters that it lacks are replaced.
    """
    if os.name != "posix" or sys.flags.utf8_mode or sys.getfilesystemencoding() != "ascii":
        return
    written = getattr(sys.stdout, "encoding", None) or "ascii"
    # For this process the flag alone would do, but those that it starts get only the environment.
    told = os.environ | {"PYTHONUTF8": "1"}
    told.setdefault("PYTHONIOENCODING", written)
    os.execve(sys.executable, [sys.executable, "-X", "utf8=1", *sys.orig_argv[1:]], told)
