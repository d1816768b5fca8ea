"""Help and Click's own messages in the language that is asked for.

Click takes its messages from the catalogue of the process (:mod:`gettext`'s text domain), which is
ours while a language is spoken. What commands and options say of themselves stands in the code in
English; a command that is asked for in another language is a copy that says it there.
"""

from __future__ import annotations

import copy
import gettext
import os
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import click

from tonecompare.language import ENGLISH, in_language, languages, tr, tr_later
from tonecompare.language.catalogue import DOMAIN, FOLDER

_C = TypeVar("_C", bound=click.Command)
_OPTION = "--language"
#: What begins a paragraph that is not wrapped, and so the examples of a command.
_AS_IT_IS = "\b\n"


def counted_later(one: str, many: str) -> tuple[str, str]:
    """Return an English text for one and for many, for Click to say later."""
    return one, many


#: What Click says, held by the catalogue under the words it looks them up by.
CLICKS_OWN = (
    tr_later("Usage:"),
    tr_later("Options"),
    tr_later("Commands"),
    tr_later("Show the version and exit."),
    tr_later("Show this message and exit."),
    tr_later("Try '{command} {option}' for help."),
    tr_later("Error: {message}"),
    tr_later("Invalid value: {message}"),
    tr_later("Invalid value for {param_hint}: {message}"),
    tr_later("Missing argument"),
    tr_later("Missing option"),
    tr_later("Missing command."),
    tr_later("No such option {name!r}."),
    tr_later("No such command {name!r}."),
    tr_later("Option {name!r} does not take a value."),
    tr_later("{value!r} is not a valid {number_type}."),
    tr_later("{value} is not in the range {range}."),
    tr_later("Choose from:\n\t{choices}"),
    tr_later("{name} {filename!r} does not exist."),
    tr_later("{name} {filename!r} is a file."),
    tr_later("{name} {filename!r} is a directory."),
)
#: The same of texts with a plural.
CLICKS_COUNTED = (
    counted_later("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)"),
    counted_later("{value!r} is not {choice}.", "{value!r} is not one of {choices}."),
    counted_later(
        "Option {name!r} requires an argument.", "Option {name!r} requires {nargs} arguments."
    ),
    counted_later(
        "Got unexpected extra argument ({args})", "Got unexpected extra arguments ({args})"
    ),
)


def asked_for(arguments: Sequence[str]) -> str:
    """Return the language of a command line: its ``--language``, else that of a session in it.

    What names no language there is, is English: the option's own error says which there are.

    Parameters
    ----------
    arguments
        The command line without the program's name.
    """
    for number, each in enumerate(arguments):
        name, _, given = each.partition("=")
        if name == _OPTION:
            code = given or next(iter(arguments[number + 1 : number + 2]), "")
            return code if code in languages() else ENGLISH
    for each in arguments:
        code = "" if each.startswith("-") else _of_session(each)
        if code in languages():
            return code
    return ENGLISH


def _of_session(folder: str) -> str:
    """Return the language a folder's session.toml names, "" where it names none."""
    try:
        path = Path(folder) / "session.toml"
        if not path.is_file():
            return ""
        return str(tomllib.loads(path.read_text(encoding="utf-8")).get("language", ""))
    except (OSError, ValueError):  # no session, or one whose faults its reader tells
        return ""


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Let this program and Click speak a language within this block."""
    if code == ENGLISH:
        yield
        return
    before, named = gettext.textdomain(), os.environ.get("LANGUAGE")
    gettext.bindtextdomain(DOMAIN, str(FOLDER))
    gettext.textdomain(DOMAIN)
    os.environ["LANGUAGE"] = code
    try:
        with in_language(code):
            yield
    finally:
        gettext.textdomain(before)
        if named is None:
            del os.environ["LANGUAGE"]
        else:
            os.environ["LANGUAGE"] = named


def in_words(command: _C) -> _C:
    """Return a copy of a command whose help is said in the language that is spoken.

    In English too: Click keeps the ``--help`` it makes, in the words of its first use.
    """
    said = copy.copy(command)
    said.help = _paragraphs(command.help or "")
    said.short_help = tr(command.short_help or "")
    said.epilog = tr(command.epilog or "")
    said.options_metavar = tr("[OPTIONS]")
    said.params = [copy.copy(one) for one in command.params]
    for one in said.params:
        if isinstance(one, click.Option) and one.help:
            one.help = tr(one.help)
    if isinstance(said, click.Group):
        said.subcommand_metavar = tr("COMMAND [ARGS]...")
    return said


def _paragraphs(text: str) -> str:
    """Say a help text paragraph by paragraph; examples stay, but for their heading."""
    told, sign, examples = text.partition(_AS_IT_IS)
    said = "\n\n".join(tr(" ".join(one.split())) for one in told.split("\n\n") if one.strip())
    heading, line, rest = examples.partition("\n")
    return f"{said}\n\n{sign}{tr(heading)}{line}{rest}" if sign else said
