"""A small validator: a table of kinds says what each key of a file may hold.

Each kind turns a raw value into the value used, or adds to a list of problems what was found and
what is allowed. All problems of a file come out together.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tonecompare.errors import SessionError
from tonecompare.language import tr_later
from tonecompare.session.naming import clean_name, did_you_mean, listed, match_key

#: Stands for a value that could not be used; the problem is already noted.
BAD: Any = object()


#: Signs of a key that a message shows.
_LONGEST_KEY = 200


@dataclass
class Problems:
    """What is wrong with one file: dotted key and sentence, in the order found."""

    file: Path
    found: list[tuple[str, str]] = field(default_factory=list)

    def add(self, key: str, message: str) -> Any:
        """Note a problem and return :data:`BAD`."""
        self.found.append((key if len(key) <= _LONGEST_KEY else f"{key[:_LONGEST_KEY]} …", message))
        return BAD

    def raise_if_any(self) -> None:
        """Raise one :class:`SessionError` that names every problem, if there are any."""
        if not self.found:
            return
        if len(self.found) == 1:
            key, message = self.found[0]
            raise SessionError(message, file=self.file, key=key)
        lines = tuple(
            tr_later("  {where}: {message}", where=key, message=message)
            if key
            else tr_later("  {message}", message=message)
            for key, message in self.found
        )
        raise SessionError(
            tr_later("{n} problems\n{lines:\n}", n=len(lines), lines=lines), file=self.file
        )


Kind = Callable[[Any, str, Problems], Any]


def dotted(*parts: str | int) -> str:
    """Return a dotted key as TOML writes it; a number is a position, counted from 1.

    Examples
    --------
    >>> dotted("stages", "as delivered", "work", 1, "hours")
    'stages."as delivered".work[1].hours'
    """
    text = ""
    for part in parts:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            bare = re.fullmatch(r"[A-Za-z0-9_-]+", part)
            text += ("." if text else "") + (part if bare else quoted(part))
    return text


def quoted(value: str) -> str:
    """Return text as a TOML basic string, quotes and line ends escaped."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def number_text(value: float) -> str:
    """Return a number as TOML has it, short where that loses nothing.

    Examples
    --------
    >>> number_text(648.0), number_text(1234567.89)
    ('648', '1234567.89')
    """
    short = f"{value:g}"
    return short if float(short) == value else repr(float(value))


def shown(value: Any) -> str:
    """Return a raw value as the user wrote it, with what it is."""
    if isinstance(value, bool):
        return tr_later("{value} (true/false)", value=str(value).lower())
    if isinstance(value, str):
        cut = value if len(value) <= 80 else f"{value[:80]} …"
        return tr_later('"{value}" (text)', value=cut)
    if isinstance(value, (int, float)):
        return tr_later("{value} (a number)", value=str(value))
    if isinstance(value, Mapping):
        return tr_later("a table")
    if isinstance(value, list):
        return tr_later("a list")
    if isinstance(value, date):
        return tr_later("{value} (a date)", value=str(value))
    return tr_later("{value} (a {kind})", value=str(value), kind=type(value).__name__)


def text(value: Any, key: str, problems: Problems) -> Any:
    """Accept text that is not empty."""
    if not isinstance(value, str):
        return problems.add(
            key, tr_later("found {found}; text in quotes is allowed.", found=shown(value))
        )
    if not value.strip():
        return problems.add(
            key, tr_later("is empty; leave the key out when there is nothing to say.")
        )
    return clean_name(value.strip())


def flag(value: Any, key: str, problems: Problems) -> Any:
    """Accept true or false."""
    if not isinstance(value, bool):
        return problems.add(
            key, tr_later("found {found}; true or false, without quotes.", found=shown(value))
        )
    return value


def day(value: Any, key: str, problems: Problems) -> Any:
    """Accept a TOML date; the time of day, if given, is dropped."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    return problems.add(
        key,
        tr_later(
            "found {found}; a date is written without quotes, like 2026-03-01.",
            found=shown(value),
        ),
    )


@dataclass(frozen=True)
class Number:
    """Accept a number from ``low`` to ``high`` in ``unit``.

    ``hints`` names likely slips as (lowest, highest, question); the first range the value falls
    in is asked about ("did you give inches?").
    """

    low: float
    high: float
    unit: str = ""
    hints: tuple[tuple[float, float, str], ...] = ()
    whole: bool = False

    def __call__(self, value: Any, key: str, problems: Problems) -> Any:
        """Return the number, as float (int if ``whole``)."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            quoted = isinstance(value, str) and re.fullmatch(r"\s*-?\d+([.,]\d+)?\s*", value)
            tip = tr_later(" Write it without quotes.") if quoted else ""
            return problems.add(key, self._refused(shown(value), tip))
        if self.whole and value != int(value if abs(value) < 1e9 else 0.5):
            return problems.add(key, self._refused(str(value)))
        if not self.low <= value <= self.high:
            asked = next((q for low, high, q in self.hints if low <= value <= high), "")
            hint = tr_later(" {question}", question=asked) if asked else ""
            return problems.add(key, self._refused(str(value), hint))
        return int(value) if self.whole else float(value)

    def _refused(self, found: str, tip: str = "") -> str:
        return tr_later(
            "found {found}; {allowed} is allowed.{tip}",
            found=found,
            allowed=self._allowed(),
            tip=tip,
        )

    def _allowed(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        kind = tr_later("a whole number") if self.whole else tr_later("a number")
        if self.high >= 1e6 and self.low <= 1e-6:
            if self.low == 0:
                return tr_later("{kind} of 0 or more{unit}", kind=kind, unit=unit)
            return tr_later("{kind} above 0{unit}", kind=kind, unit=unit)
        return tr_later(
            "{kind} from {low} to {high}{unit}",
            kind=kind,
            low=f"{self.low:.10g}",
            high=f"{self.high:.10g}",
            unit=unit,
        )


@dataclass(frozen=True)
class OneOf:
    """Accept one of a few values."""

    allowed: tuple[Any, ...]
    unit: str = ""

    def __call__(self, value: Any, key: str, problems: Problems) -> Any:
        """Return the value as it stands in the list of allowed ones."""
        for each in self.allowed:
            same = match_key(value) == each if isinstance(value, str) else value == each
            if same and not isinstance(value, bool):
                return each
        if isinstance(self.allowed[0], str):
            names = listed(self.allowed, join="or")
            guess = did_you_mean(value, self.allowed) if isinstance(value, str) else ""
            return problems.add(
                key,
                tr_later(
                    "found {found}; {names} is allowed.{guess}",
                    found=shown(value),
                    names=names,
                    guess=guess,
                ),
            )
        return problems.add(
            key,
            tr_later(
                "found {found}; {values: or }{unit} is allowed.",
                found=shown(value),
                values=tuple(f"{each:g}" for each in self.allowed),
                unit=f" {self.unit}" if self.unit else "",
            ),
        )


@dataclass(frozen=True)
class ListOf:
    """Accept a list of one kind; a single value counts as a list of one."""

    kind: Kind
    longest: int = 99
    shortest: int = 1

    def __call__(self, value: Any, key: str, problems: Problems) -> Any:
        """Return a tuple."""
        values = value if isinstance(value, list) else [value]
        if not self.shortest <= len(values) <= self.longest:
            return problems.add(
                key,
                tr_later(
                    "found {n} entries; {fewest} to {most} fit here.",
                    n=len(values),
                    fewest=self.shortest,
                    most=self.longest,
                ),
            )
        done = tuple(
            self.kind(each, f"{key}[{i}]" if isinstance(value, list) else key, problems)
            for i, each in enumerate(values, start=1)
        )
        return BAD if any(each is BAD for each in done) else done


@dataclass(frozen=True)
class Table:
    """Accept a table with known keys only; ``needed`` ones must stand in it."""

    keys: Mapping[str, Kind]
    needed: tuple[str, ...] = ()

    def __call__(self, value: Any, key: str, problems: Problems) -> Any:
        """Return a dict of the keys that were given and can be used."""
        if not isinstance(value, Mapping):
            return problems.add(
                key, tr_later("found {found}; a table with keys is allowed.", found=shown(value))
            )
        done: dict[str, Any] = {}
        for name, raw in value.items():
            here = f"{key}.{dotted(name)}" if key else dotted(name)
            if name not in self.keys:
                unknown_key(name, here, self.keys, problems)
                continue
            used = self.keys[name](raw, here, problems)
            if used is not BAD:
                done[name] = used
        for name in self.needed:
            if name not in value:
                problems.add(key, tr_later('the key "{name}" is missing.', name=name))
        return done


@dataclass(frozen=True)
class Named:
    """Accept a table of named entries, each of one kind; names that differ only in case clash."""

    kind: Kind

    def __call__(self, value: Any, key: str, problems: Problems) -> Any:
        """Return a dict from name (NFC) to entry."""
        if not isinstance(value, Mapping):
            return problems.add(
                key,
                tr_later(
                    "found {found}; write [{key}.<name>] and its keys below.",
                    found=shown(value),
                    key=key,
                ),
            )
        done: dict[str, Any] = {}
        seen: dict[str, str] = {}
        for raw_name, raw in value.items():
            name, here = clean_name(raw_name), f"{key}.{dotted(raw_name)}"
            if not name.strip():
                problems.add(here, tr_later("the name is empty."))
                continue
            if match_key(name) in seen:
                other = seen[match_key(name)]
                problems.add(
                    here,
                    tr_later(
                        '"{name}" stands there already; case makes no difference.', name=other
                    ),
                )
                continue
            seen[match_key(name)] = name
            used = self.kind(raw, here, problems)
            if used is not BAD:
                done[name] = used
        return done


def unknown_key(name: str, key: str, allowed: Iterable[str], problems: Problems) -> None:
    """Note a key nobody reads, with what may stand there."""
    allowed = tuple(allowed)
    guess = did_you_mean(name, allowed)
    problems.add(
        key,
        tr_later(
            "unknown key.{guess} Allowed here: {names}.", guess=guess, names=tuple(sorted(allowed))
        ),
    )
