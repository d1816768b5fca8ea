"""The catalogue's tool: finds every text that is said, updates the .po files, compiles them.

``python tests/helpers/catalogue.py`` does it for all languages there are and says what has no
translation yet; ``python tests/helpers/catalogue.py fr`` begins another one.
"""

from __future__ import annotations

import ast
import io
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment

import tonecompare
from tonecompare.language.catalogue import DOMAIN

PACKAGE = Path(tonecompare.__file__).parent
FOLDER = PACKAGE / "language"
#: Which arguments of a call are texts to translate; with a context in front for ``tr_as``.
CALLS = {"tr": 1, "tr_html": 1, "tr_later": 1, "tr_n": 2, "tr_as": 2, "counted_later": 2}
#: Whose arguments, by place or by name, are texts that are said later.
HOLDERS: dict[str, tuple[int | str, ...]] = {
    "Entry": (3, "no_error"),
    "HearingThreshold": (1, 5, 6),
    "HowCompared": (0,),
    "Meaning": (3, 4),
    "OctaveBand": (1,),
    "Said": (0, 1, "up", "down", "above", "below"),
    "option": ("help",),
}
NOTE = "Tonecompare's texts. The English ones are those of the code."


@dataclass(frozen=True)
class Said:
    """One text that is said: what, with which context, and where."""

    text: str | tuple[str, str]
    context: str | None
    place: str

    @property
    def key(self) -> tuple[str | None, str]:
        """What it is looked up by."""
        return self.context, self.text if isinstance(self.text, str) else self.text[0]


def _of(name: str, texts: list[str], place: str) -> Said:
    if name == "tr_as":
        return Said(texts[1], texts[0], place)
    if name in ("tr_n", "counted_later"):
        return Said((texts[0], texts[1]), None, place)
    return Said(texts[0], None, place)


def said_in_python(source: str, place: str) -> Iterator[Said]:
    """Yield every text a module says.

    Raises
    ------
    ValueError
        A text is no constant and so can be in no catalogue (a marked one, given by name, may).
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            yield from _helped(node, place)
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        yield from _held(name, node, place)
        if name not in CALLS or len(node.args) < CALLS[name]:
            continue
        values = [one.value if isinstance(one, ast.Constant) else None for one in node.args]
        here = f"{place}:{node.lineno}"
        if any(isinstance(one, (ast.JoinedStr, ast.BinOp)) for one in node.args[: CALLS[name]]):
            raise ValueError(f"{here}: what {name}() is given is built there; make it a constant.")
        texts = [one for one in values[: CALLS[name]] if isinstance(one, str)]
        if len(texts) == CALLS[name] and texts[0]:
            yield _of(name, texts, here)


def _held(name: str, node: ast.Call, place: str) -> Iterator[Said]:
    """Yield the texts among the arguments of an entry of a table."""
    for held in HOLDERS.get(name, ()):
        given = node.args[held : held + 1] if isinstance(held, int) else [
            one.value for one in node.keywords if one.arg == held]  # fmt: skip
        for one in given:
            if isinstance(one, ast.Constant) and isinstance(one.value, str) and one.value:
                yield Said(one.value, None, f"{place}:{node.lineno}")


def _helped(function: ast.FunctionDef, place: str) -> Iterator[Said]:
    """Yield the paragraphs of a command's help: its docstring, a line each."""
    made = [getattr(getattr(one, "func", None), "attr", "") for one in function.decorator_list]
    if {"command", "group"} & set(made):
        for text in (ast.get_docstring(function) or "").split("\n\n"):
            yield Said(" ".join(text.split()), None, f"{place}:{function.lineno}")


def said_in_template(source: str, place: str) -> Iterator[Said]:
    """Yield every text a template says."""
    environment = Environment(extensions=["jinja2.ext.i18n"], autoescape=True)
    found = environment.extract_translations(source, gettext_functions=tuple(CALLS))  # type: ignore[attr-defined]
    for line, name, texts in found:
        if texts is None:
            continue
        given = [texts] if isinstance(texts, str) else [each for each in texts if each is not None]
        if len(given) >= CALLS[name]:
            yield _of(name, given, f"{place}:{line}")


def everything_said() -> list[Said]:
    """Return every text of the package, in the order of its files."""
    found: list[Said] = []
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE.parent).as_posix()
        if path.parent != FOLDER:
            found += said_in_python(path.read_text(encoding="utf-8"), place)
    for path in sorted(PACKAGE.rglob("*.j2")):
        place = path.relative_to(PACKAGE.parent).as_posix()
        found += said_in_template(path.read_text(encoding="utf-8"), place)
    return found


def translated(language: str) -> dict[tuple[str | None, str], str | tuple[str, ...]]:
    """Return what a language's files hold by context and English text."""
    known: dict[tuple[str | None, str], str | tuple[str, ...]] = {}
    for path in sorted((FOLDER / language).rglob("*.po")):
        for one in read_po(io.BytesIO(path.read_bytes()), locale=language):
            said = one.string if isinstance(one.string, str) else tuple(one.string)
            if one.id and any(said if isinstance(said, tuple) else [said]):
                key = one.id if isinstance(one.id, str) else one.id[0]
                known[one.context, key] = said
    return known


def catalogue(language: str) -> Catalog:
    """Return a language's catalogue: what is said now, with the translations known."""
    known = translated(language)
    made = Catalog(locale=language, domain=DOMAIN, header_comment=f"# {NOTE}", fuzzy=False)
    for one in everything_said():
        string = known.get(one.key, "")
        if isinstance(one.text, tuple) and isinstance(string, str):
            string = (string, string)
        made.add(
            one.text, string, context=one.context, locations=[(one.place.rsplit(":", 1)[0], None)]
        )
    return made


def po_bytes(made: Catalog) -> bytes:
    """Return a catalogue as text, the same whenever it is written."""
    buffer = io.BytesIO()
    write_po(buffer, made, width=100, sort_by_file=True, omit_header=False, include_lineno=False)
    dated = ("POT-Creation-Date", "PO-Revision-Date", "Generated-By", "Last-Translator",
             "Report-Msgid-Bugs-To", "Project-Id-Version", "Language-Team")  # fmt: skip
    lines = buffer.getvalue().split(b"\n")
    return b"\n".join(line for line in lines if not line.startswith(
        tuple(f'"{each}'.encode() for each in dated)))  # fmt: skip


def mo_bytes(made: Catalog) -> bytes:
    """Return a catalogue compiled, the same whenever it is written."""
    buffer = io.BytesIO()
    write_mo(buffer, read_po(io.BytesIO(po_bytes(made)), locale=made.locale))
    return buffer.getvalue()


def missing(made: Catalog) -> list[Message]:
    """Return what has no translation."""
    return [one for one in made if one.id and not all(
        one.string if isinstance(one.string, (tuple, list)) else [one.string])]  # fmt: skip


def main(languages: list[str]) -> None:
    """Bring the files of these languages (or all) up to date and say what is missing."""
    there = sorted(path.name for path in FOLDER.iterdir() if path.is_dir() and len(path.name) == 2)
    for language in languages or there:
        folder = FOLDER / language / "LC_MESSAGES"
        folder.mkdir(parents=True, exist_ok=True)
        made = catalogue(language)
        (folder / f"{DOMAIN}.po").write_bytes(po_bytes(made))
        (folder / f"{DOMAIN}.mo").write_bytes(mo_bytes(made))
        for one in missing(made):
            places = ", ".join(sorted({place for place, _ in one.locations}))
            print(f"{language}: {one.id!r} ({places})")
        print(f"{language}: {len(made)} texts, {len(missing(made))} without translation")


if __name__ == "__main__":
    main(sys.argv[1:])
