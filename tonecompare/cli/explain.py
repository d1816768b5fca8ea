"""``tonecompare explain WORD``."""

from __future__ import annotations

import difflib
import textwrap
from collections.abc import Mapping

import click

from tonecompare.cli.options import example
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.terminal import show
from tonecompare.errors import InputError
from tonecompare.quantities.meanings import (
    MEANINGS,
    STANDARD_ERROR,
    Meaning,
    is_error,
    meaning_of,
)
from tonecompare.quantities.moved_by import causes_of
from tonecompare.quantities.terms import GONE, VERDICTS, WORDS
from tonecompare.report.words.cause_words.cause_terms import CAUSES

_WIDTH = 80


@click.command(short_help="Say what a word of a report means.")
@click.argument("word", nargs=-1)
@example("tonecompare explain decay_s", "tonecompare explain confounded")
@with_exit_code
def explain(word: tuple[str, ...]) -> int:
    """Say what a word of a report means.

    WORD is a column of a CSV file, a verdict, a confound, a command, or a word of the trade such
    as stage. Without it, every word is listed.
    """
    show(explained(" ".join(word)) if word else listing())
    _say_next(" ".join(word).strip().lower())
    return DONE


def _say_next(name: str) -> None:
    if name in _commands():
        say_next(name, "--help")
    elif name:
        say_next("explain", when="for every other word")
    else:
        say_next("explain", "confounded")


def explained(word: str) -> str:
    """Return what a word means, at most 80 columns wide.

    Raises
    ------
    InputError
        When the word is not known, with those most like it.
    """
    name = word.strip().lower()
    parts = [text for text in _texts(name) if text]
    if not parts:
        near = difflib.get_close_matches(name, _names(), n=3, cutoff=0.6)
        hint = f" Did you mean {', '.join(near)}?" if near else ""
        raise InputError(f"{word!r} is not explained.{hint} tonecompare explain lists every word.")
    return "\n\n".join(parts)


def listing() -> str:
    """Return every word that is explained, by group."""
    groups: Mapping[str, list[str]] = {
        "Columns": [meaning.title for meaning in MEANINGS],
        "Verdicts": list(VERDICTS),
        "Confounds": list(CAUSES),
        "Commands": list(_commands()),
        "Hearing thresholds": [f"{name} threshold" for name in _thresholds()],
        "Words": list(WORDS),
    }
    return "\n\n".join(f"{head}\n{_wrapped(', '.join(names))}" for head, names in groups.items())


def _texts(name: str) -> list[str]:
    meaning = meaning_of(name)
    return [
        "" if meaning is None else _column(name, meaning),
        _entry(name, "verdict", VERDICTS),
        _entry(name, "confound", CAUSES),
        _entry(name, "command", _commands()),
        _entry(name.removesuffix(" threshold"), "hearing threshold", _thresholds()),
        _entry(name, "word", WORDS),
        _entry(name, "column of earlier versions", GONE),
    ]


def _entry(name: str, kind: str, texts: Mapping[str, str]) -> str:
    return f"{name} ({kind})\n{_wrapped(texts[name])}" if name in texts else ""


def _column(name: str, meaning: Meaning) -> str:
    unit = f", in {meaning.unit}" if meaning.unit else ""
    files = ", ".join(f"{table}.csv" for table in meaning.tables)
    lines = [_wrapped(f"{meaning.title}{unit}", indent=""), _wrapped(meaning.text)]
    if is_error(name):
        lines = [name, _wrapped(STANDARD_ERROR), *lines]
    if meaning.no_error:
        lines.append(_wrapped(f"It has no standard error: {meaning.no_error}"))
    causes = causes_of(meaning.columns[-1])
    if causes:
        named = ", ".join(causes)
        lines.append(_wrapped(f"Besides the work, these among others can move it: {named}."))
    return "\n".join([*lines, _wrapped(f"Stands in {files}.")])


def _commands() -> dict[str, str]:
    program = click.get_current_context().find_root().command
    commands = program.commands if isinstance(program, click.Group) else {}
    return {
        name: f"{command.get_short_help_str(200)} More: tonecompare {name} --help."
        for name, command in commands.items()
    }


def _thresholds() -> dict[str, str]:
    from tonecompare.compare.thresholds import THRESHOLDS

    return {
        name: f"{one.label}: a fall of {one.below:g} or a rise of {one.above:g} {one.unit}. "
        f"Source: {one.source}. How sure: {one.sure}."
        for name, one in THRESHOLDS.items()
    }


def _names() -> list[str]:
    columns = [column for meaning in MEANINGS for column in meaning.columns]
    return [*columns, *VERDICTS, *CAUSES, *_commands(), *_thresholds(), *WORDS]


def _wrapped(text: str, *, indent: str = "  ") -> str:
    return textwrap.fill(text, _WIDTH, initial_indent=indent, subsequent_indent=indent)
