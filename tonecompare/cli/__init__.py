"""What did the user ask for? Parse, call, show, exit code: one module per command.

``app``       the ``tonecompare`` group that holds the commands
``options``   options that several commands share
``outcome``   errors into sentences and exit codes
``pipeline``  a session into a report folder: measure, compare, write
``shown``     how it reads on a terminal: a room of its own

Nothing here imports NumPy or anything that does until a command runs, nor Click until ``main`` is
asked for.
"""

from __future__ import annotations

from tonecompare.lazy import lazily

TYPE_CHECKING = False
if TYPE_CHECKING:
    from tonecompare.cli.app import main

__all__ = ["main"]

__getattr__, __dir__ = lazily(__name__, {"main": "app"})
