"""Ask what is to be planned: each answer is checked when given, asked for again, and kept."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import click

from tonecompare.cli.outcome import kept_in
from tonecompare.cli.planning.kept_answers import KeptAnswers
from tonecompare.cli.planning.questions import Question, questions
from tonecompare.cli.shown.terminal import say, show, wrapped, written_out
from tonecompare.errors import InputError, message_of
from tonecompare.language import tr


def interview(given: Mapping[str, Any], kept: KeptAnswers) -> dict[str, Any]:
    """Return all answers, parsed, by the key of their question.

    Kept answers are not asked for again; those that can no longer be are.

    Raises
    ------
    InputError
        When the file of answers is somebody else's.
    click.Abort
        At Ctrl-C or where the input ends; what was answered is kept.
    """
    earlier = kept.read()
    if earlier:
        say(
            tr(
                "Going on from the answers kept in {path}. Delete that file to start anew.",
                path=kept.path,
            )
        )
        kept_in(kept.path)
    texts: dict[str, str] = {}
    answers: dict[str, Any] = {}
    for question in questions(given, answers):
        text = _usable(question, earlier)
        if text is not None:
            show(f"{question.words}: {text or tr('(none)')}")
        else:
            text = _asked(question)
        texts[question.key], answers[question.key] = text, question.parse(text)
        if text != earlier.get(question.key):
            kept.save(earlier | texts)
            kept_in(kept.path)
    return answers


def _usable(question: Question, earlier: Mapping[str, str]) -> str | None:
    text = earlier.get(question.key)
    if text is None:
        return None
    try:
        question.parse(text)
    except InputError as error:
        say(
            tr(
                "{question}: the kept answer {answer} no longer fits: {why}",
                question=question.words,
                answer=repr(text),
                why=message_of(error),
            )
        )
        return None
    return text


def _asked(question: Question) -> str:
    def checked(text: str) -> str:
        if not text.isascii() and any("\ud800" <= sign <= "\udfff" for sign in text):
            raise click.UsageError(
                tr("The answer is not UTF-8 text. Type it, or save the answers as UTF-8.")
            )
        try:
            question.parse(text)
        except InputError as error:
            raise click.UsageError(written_out(message_of(error))) from error
        return text

    if question.hint:
        show(wrapped(question.hint))
    answer: str = click.prompt(
        written_out(question.words),
        default=question.default,
        show_default=bool(question.default),
        value_proc=checked,
    )
    sys.stdout.flush()
    return answer
