"""Every sentence and label passes here on its way to a reader, by GNU gettext.

A text is looked up as it stands in the code, so it has to be one constant, with named places for
what varies: ``tr("{voice} is {size} louder", voice=…, size=…)``, never an f-string. A text that
has no translation is said in English.
"""

from __future__ import annotations

import gettext
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from string import Formatter

#: What the texts in the code are written in.
ENGLISH = "en"
DOMAIN = "tonecompare"
#: Where the catalogues lie, as gettext looks for them.
FOLDER = Path(__file__).parent
_chosen: ContextVar[str] = ContextVar("language", default=ENGLISH)


def languages() -> tuple[str, ...]:
    """Return the codes of all languages there are, English first (ISO 639-1)."""
    found = sorted(path.parts[-3] for path in FOLDER.glob(f"*/LC_MESSAGES/{DOMAIN}.mo"))
    return (ENGLISH, *found)


def language() -> str:
    """Return the code of the language that is being spoken."""
    return _chosen.get()


@contextmanager
def in_language(code: str) -> Iterator[None]:
    """Speak another language within this block.

    Raises
    ------
    ValueError
        When there is no catalogue for ``code``.
    """
    if code not in languages():
        raise ValueError(f"code={code!r}: the languages are {', '.join(languages())}.")
    token = _chosen.set(code)
    try:
        yield
    finally:
        _chosen.reset(token)


@cache
def _catalogue(code: str) -> gettext.NullTranslations:
    if code == ENGLISH:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, FOLDER, languages=[code])


class SaidLater(str):
    """An English text, its places filled, that :func:`tr` can still say in another language."""

    template: str
    values: dict[str, object]

    def __new__(cls, template: str, values: dict[str, object]) -> SaidLater:
        """Fill the places of ``template``; without values braces stay as they are."""
        made = super().__new__(
            cls, _IN_ENGLISH.vformat(template, (), values) if values else template
        )
        made.template, made.values = template, values
        return made

    def __reduce__(self) -> tuple[type[SaidLater], tuple[str, dict[str, object]]]:
        """Keep places and values in another process and in what is kept of earlier runs."""
        return SaidLater, (self.template, self.values)


class _Places(Formatter):
    """Fills the places of a text that is said later."""

    def __init__(self, say: Callable[[str], str], decimal_mark: Callable[[], str]) -> None:
        self._say, self._decimal_mark = say, decimal_mark

    def format_field(self, value: object, format_spec: str) -> str:
        """Return one place filled: texts said, numbers with the decimal mark.

        Several stand one after the other, texts with the specification between them.
        """
        if isinstance(value, tuple):
            texts = bool(value) and isinstance(value[0], str)
            each = [self.format_field(one, "" if texts else format_spec) for one in value]
            return ((texts and format_spec) or ", ").join(each)
        if isinstance(value, str):
            text = self._say(value) if isinstance(value, SaidLater) else value
            return text[:1].upper() + text[1:] if format_spec == "A" else format(text, format_spec)
        text = format(value, format_spec)
        return text.replace(".", self._decimal_mark()) if isinstance(value, float) else text


_IN_ENGLISH = _Places(str, lambda: ".")


def tr_later(text: str, /, **values: object) -> str:
    """Return an English text of a table, a constant or a measurement for :func:`tr` to say later.

    Parameters
    ----------
    text
        English, a constant.
    values
        What its places take; what was marked here too is said then, and a number gets the decimal
        mark of the language. ``{name:A}`` begins with a capital; a tuple is
        listed, with ``{names:; }`` apart by what is given.

    Examples
    --------
    >>> tr_later("{what:A} for only {s:.1f} s", what="rang", s=0.42)
    'Rang for only 0.4 s'
    """
    return SaidLater(text, values)


def tr(text: str, /, **values: object) -> str:
    """Return a text in the language that is spoken, its named places filled.

    Parameters
    ----------
    text
        English, a constant; ``{name}`` is a place. Without ``values`` braces stay as they are.
    values
        What to put there, text and numbers as they are to be read.

    Examples
    --------
    >>> tr("{voice} is {size} louder", voice="neck", size="1.2 dB")
    'neck is 1.2 dB louder'
    """
    if isinstance(text, SaidLater) and text.values:
        return _SAID.vformat(_catalogue(language()).gettext(text.template), (), text.values)
    told = _catalogue(language()).gettext(text) if text else text
    return told.format(**values) if values else told


_SAID = _Places(tr, lambda: tr_as("decimal mark", "."))


def tr_as(context: str, text: str, /, **values: object) -> str:
    """Return a text that means different things in different places, as ``context`` has it.

    Examples
    --------
    >>> tr_as("of a filter", "flat")
    'flat'
    """
    told = _catalogue(language()).pgettext(context, text)
    return told.format(**values) if values else told


def tr_n(one: str, many: str, /, n: int, **values: object) -> str:
    """Return the text that fits a number; ``{n}`` is the number.

    Examples
    --------
    >>> tr_n("{n} pluck", "{n} plucks", 2)
    '2 plucks'
    """
    return _catalogue(language()).ngettext(one, many, n).format(n=n, **values)
