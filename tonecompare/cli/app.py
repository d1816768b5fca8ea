"""The ``tonecompare`` command group."""

from __future__ import annotations

import gc
import logging
import os
import re
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from tonecompare import __version__
from tonecompare.cli.check import check
from tonecompare.cli.compare import compare
from tonecompare.cli.cut import cut
from tonecompare.cli.demo import demo
from tonecompare.cli.explain import explain
from tonecompare.cli.listen.blind import blind
from tonecompare.cli.listen.charts import charts
from tonecompare.cli.listen.clips import clips
from tonecompare.cli.listen.film import film
from tonecompare.cli.measure import measure
from tonecompare.cli.outcome import STOPPED, end_without_stdout
from tonecompare.cli.plan import plan
from tonecompare.cli.report import report
from tonecompare.cli.shown.spoken_help import asked_for, in_words, speaking
from tonecompare.cli.shown.terminal import never_refuse, say, written_out
from tonecompare.language import languages, tr, tr_later

#: What is set for other programs' plots and builds would have a say in ours.
_NOT_FOR_US = ("MPLBACKEND", "SOURCE_DATE_EPOCH")

#: Matrices are small here: threads would spin and gain nothing; recordings go to other processes.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")

#: Tables and charts make objects by the hundred thousand, few of them in cycles: looked through as
#: rarely as this, a report takes a tenth less time and as much memory.
_LOOKED_THROUGH_AT = (20_000, 20, 20)

_EMPTY_OPTION = re.compile("--[a-z-]+=")


class Program(click.Group):
    """The command group as a program of its own."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Run it, on terminals of every encoding. Once a command has ended, Ctrl-C stops nothing.

        Workers are still waited for then, and an interrupt there would print a traceback.
        """
        never_refuse()
        for name in _ONE_THREAD:
            os.environ.setdefault(name, "1")
        for name in _NOT_FOR_US:
            os.environ.pop(name, None)
        # Where it may keep its list of fonts is no matter of who measures guitars.
        logging.getLogger("matplotlib").setLevel(logging.ERROR)
        gc.set_threshold(*_LOOKED_THROUGH_AT)
        try:
            return super().__call__(*args, **kwargs)
        finally:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            gc.freeze()  # the system takes everything back at once

    def main(self, args: Sequence[str] | None = None, *given: Any, **named: Any) -> Any:
        """Run it in the language of the command line, help and Click's messages too."""
        arguments = list(sys.argv[1:] if args is None else args)
        with speaking(asked_for(arguments)):
            try:
                return super(Program, in_words(self)).main(arguments, *given, **named)
            except OSError as error:  # help goes to a full disk
                end_without_stdout(error)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, its help in the language that is spoken."""
        command = super().get_command(ctx, cmd_name)
        return command if command is None else in_words(command)

    def make_context(
        self, info_name: str | None, args: list[str], *given: Any, **named: Any
    ) -> click.Context:
        """Read the command line; what is wrong with it is said without steering the terminal.

        An empty word names nothing: as a path it would stand for the folder somebody happens to be
        in, as a filter for all.
        """
        with _ended_as_said():
            if any(not word or _EMPTY_OPTION.fullmatch(word) for word in args):
                raise click.UsageError(
                    tr("A word of the command is empty: a variable of the shell that is not set, "
                       "perhaps. Write what is meant, or leave it out.")
                )  # fmt: skip
            try:
                Path.cwd()
            except FileNotFoundError as error:
                raise click.UsageError(
                    tr("The folder you are in is gone. Go to another one and run this again.")
                ) from error
            return super().make_context(info_name, args, *given, **named)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was named, its own words held to the same."""
        with _ended_as_said():
            return super().invoke(ctx)


@contextmanager
def _ended_as_said() -> Iterator[None]:
    """Write control characters out in click's own errors, which repeat the words given.

    Ctrl-C before a command has begun would end with the code of recordings that were left out.
    """
    try:
        yield
    except KeyboardInterrupt:
        say(f"\n{tr('Stopped.')}")
        sys.exit(STOPPED)
    except click.UsageError as error:
        told = error.format_message()
        if written_out(told) == told:
            raise
        raise click.UsageError(written_out(told), ctx=error.ctx) from error


@click.group(
    cls=Program,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 88},
    epilog=tr_later(
        "Start with: tonecompare compare BEFORE AFTER. Every command explains itself with --help."
    ),
)
@click.version_option(__version__, "--version", prog_name="tonecompare")
@click.option("--language", "spoken", type=click.Choice(languages()), hidden=True)
@click.pass_context
def main(context: click.Context, spoken: str | None) -> None:
    """Measure what work on a guitar changed, from recordings made before and after.

    Exit codes: 0 done; 1 done, but recordings were left out (named on stderr); 2 the input
    cannot be used; 3 an error inside tonecompare; 130 stopped with Ctrl-C.
    """
    # Before a command it holds as after it.
    context.default_map = {name: {"spoken": spoken} for name in main.commands}


for _command in (
    compare,
    report,
    check,
    measure,
    plan,
    cut,
    charts,
    clips,
    film,
    blind,
    explain,
    demo,
):
    main.add_command(_command)
