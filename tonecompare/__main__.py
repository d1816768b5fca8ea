"""``python -m tonecompare``: the same as the ``tonecompare`` command."""

from __future__ import annotations

import sys

from tonecompare.cli.help_at_once import help_at_once


def start() -> None:
    """Run the program: help as it was written down, all else by Click."""
    if not help_at_once(sys.argv[1:]):
        from tonecompare.utf8_names import start_over_if_names_are_ascii

        start_over_if_names_are_ascii()
        from tonecompare.cli import main

        main(prog_name="tonecompare")


if __name__ == "__main__":
    start()
