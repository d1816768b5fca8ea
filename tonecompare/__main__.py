"""``python -m tonecompare``: the same as the ``tonecompare`` command."""

from __future__ import annotations

import os
import sys

from tonecompare.cli.help_at_once import help_at_once


def start() -> None:
    """Run the program; Ctrl-C while it still loads ends it as it would later, in a sentence."""
    try:
        _run()
    except KeyboardInterrupt:
        import signal

        signal.signal(signal.SIGINT, signal.SIG_IGN)
        from tonecompare.language import tr

        print(f"\n{tr('Stopped.')}", file=sys.stderr)
        sys.exit(130)


def _run() -> None:
    """Give help as it was written down, all else to Click."""
    _open_what_is_closed()
    if not help_at_once(sys.argv[1:]):
        from tonecompare.utf8_names import start_over_if_names_are_ascii

        start_over_if_names_are_ascii()
        from tonecompare.cli import main

        main(prog_name="tonecompare")


def _open_what_is_closed() -> None:
    """Open nothing where a stream was closed (``>&-``), lest a recording get its number."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115


if __name__ == "__main__":
    start()
