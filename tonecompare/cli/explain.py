"""``tonecompare explain WORD``."""

from __future__ import annotations

import difflib
import textwrap
from collections.abc import Mapping

import click

from tonecompare.cli.options import example, language_option
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.terminal import show
from tonecompare.errors import InputError
from tonecompare.language import ENGLISH, in_language, tr, tr_as, tr_later
from tonecompare.quantities.meanings import MEANINGS, STANDARD_ERROR, Meaning, is_error, meaning_of
from tonecompare.quantities.moved_by import causes_of
from tonecompare.quantities.terms import GONE, VERDICTS, WORDS
from tonecompare.report.words.cause_words.cause_terms import CAUSES
from tonecompare.report.words.numbers import plain

_WIDTH = 80


@click.command(short_help=tr_later("Say what a word of a report means."))
@click.argument("word", nargs=-1)
@language_option
@example("tonecompare explain decay_s", "tonecompare explain confounded")
@with_exit_code
def explain(word: tuple[str, ...], *, spoken: str | None) -> int:
    """Say what a word of a report means.

    WORD is a column of a CSV file, a verdict, a confound, a command, or a word of the trade such
    as stage. Without it, every word is listed.
    """
    click.get_current_context().with_resource(in_language(spoken or ENGLISH))
    show(explained(" ".join(word)) if word else listing())
    _say_next(" ".join(word).strip().lower())
    return DONE


def _say_next(name: str) -> None:
    if name in _commands():
        say_next(name, "--help")
    elif name:
        say_next("explain", when=tr("for every other word"))
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
        near = difflib.get_close_matches(name, dict.fromkeys(_names()), n=3, cutoff=0.6)
        hint = tr(" Did you mean {names}?", names=", ".join(near)) if near else ""
        raise InputError(
            tr(
                "{word} is not explained.{hint} tonecompare explain lists every word.",
                word=repr(word),
                hint=hint,
            )
        )
    return "\n\n".join(parts)


def listing() -> str:
    """Return every word that is explained, by group."""
    groups: Mapping[str, list[str]] = {
        tr("Columns"): [meaning.title for meaning in MEANINGS],
        tr("Verdicts"): list(VERDICTS),
        tr("Confounds"): list(CAUSES),
        tr("Commands"): list(_commands()),
        tr("Hearing thresholds"): [f"{name} threshold" for name in _thresholds()],
        tr("Words"): [tr(word) for word in WORDS],
    }
    return "\n\n".join(f"{head}\n{_wrapped(', '.join(names))}" for head, names in groups.items())


def _texts(name: str) -> list[str]:
    meaning = meaning_of(name)
    return [
        "" if meaning is None else _column(name, meaning),
        _entry(name, tr("verdict"), VERDICTS),
        _entry(name, tr("confound"), CAUSES),
        _entry(name, tr("command"), _commands()),
        _entry(name.removesuffix(" threshold"), tr("hearing threshold"), _thresholds()),
        _entry(name, tr_as("of a language", "word"), WORDS | _words()),
        _entry(name, tr("column of earlier versions"), GONE),
    ]


def _entry(name: str, kind: str, texts: Mapping[str, str]) -> str:
    return f"{name} ({kind})\n{_wrapped(tr(texts[name]))}" if name in texts else ""


def _column(name: str, meaning: Meaning) -> str:
    files = ", ".join(f"{table}.csv" for table in meaning.tables)
    titled = (
        tr("{columns}, in {unit}", columns=meaning.title, unit=tr(meaning.unit))
        if meaning.unit
        else meaning.title
    )
    lines = [_wrapped(titled, indent=""), _wrapped(tr(meaning.text))]
    if is_error(name):
        lines = [name, _wrapped(tr(STANDARD_ERROR)), *lines]
    if meaning.no_error:
        lines.append(_wrapped(tr("It has no standard error: {why}", why=tr(meaning.no_error))))
    causes = causes_of(meaning.columns[-1])
    if causes:
        named = ", ".join(causes)
        lines.append(
            _wrapped(
                tr("Besides the work, these among others can move it: {causes}.", causes=named)
            )
        )
    return "\n".join([*lines, _wrapped(tr("Stands in {files}.", files=files))])


def _commands() -> dict[str, str]:
    program = click.get_current_context().find_root().command
    commands = program.commands if isinstance(program, click.Group) else {}
    return {
        name: tr(
            "{help} More: tonecompare {command} --help.",
            help=tr(command.get_short_help_str(200)),
            command=name,
        )
        for name, command in commands.items()
    }


def _words() -> dict[str, str]:
    """Return the words of the trade as they are called in the language that is spoken."""
    return {tr(word).lower(): text for word, text in WORDS.items()}


def _thresholds() -> dict[str, str]:
    from tonecompare.compare.thresholds import THRESHOLDS

    return {
        name: tr(
            "{quantity}: a fall of {below} or a rise of {above} {unit}. Source: {source}. How "
            "sure: {sure}.",
            quantity=tr(one.label),
            below=plain(one.below),
            above=plain(one.above),
            unit=tr(one.unit),
            source=tr(one.source),
            sure=tr(one.sure),
        )
        for name, one in THRESHOLDS.items()
    }


def _names() -> list[str]:
    columns = [column for meaning in MEANINGS for column in meaning.columns]
    return [*columns, *VERDICTS, *CAUSES, *_commands(), *_thresholds(), *WORDS, *_words()]


def _wrapped(text: str, *, indent: str = "  ") -> str:
    return textwrap.fill(text, _WIDTH, initial_indent=indent, subsequent_indent=indent)
