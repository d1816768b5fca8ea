"""What did the user ask for? Parse, call, show, exit code: one module per command.

``app``       the ``tonecompare`` group that holds the commands
``options``   options that several commands share
``outcome``   errors into sentences and exit codes
``pipeline``  a session into a report folder: measure, compare, write
``shown``     how it reads on a terminal: a room of its own

Nothing here imports NumPy or anything that does until a command runs.
"""

from __future__ import annotations

from tonecompare.cli.app import main

__all__ = ["main"]
