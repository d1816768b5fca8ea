"""The open strings of an instrument: by name or note by note, for one session at a time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from tonecompare.errors import InputError
from tonecompare.language import tr_later
from tonecompare.session.model import STANDARD_TUNING, Session
from tonecompare.session.naming import did_you_mean
from tonecompare.session.note_names import note_name, note_number

#: Tunings by name, lowest string first.
TUNINGS = {
    "guitar": STANDARD_TUNING,
    "drop-d": ("D2", *STANDARD_TUNING[1:]),
    "seven-string": ("B1", *STANDARD_TUNING),
    "nylon": STANDARD_TUNING,
    "baritone": ("B1", "E2", "A2", "D3", "F#3", "B3"),
    "bass": ("E1", "A1", "D2", "G2"),
    "five-string-bass": ("B0", "E1", "A1", "D2", "G2"),
}
_MOST_STRINGS = 24


def parse_tuning(given: str | Sequence[str]) -> tuple[str, ...]:
    """Return the note names of open strings, lowest first.

    Parameters
    ----------
    given
        A name of :data:`TUNINGS` ("bass"), notes in one text ("B0,E1,A1,D2,G2") or a sequence of
        notes.

    Raises
    ------
    InputError
        When it is neither, or runs from the highest string down; the message says what is allowed.

    Examples
    --------
    >>> parse_tuning("bass")
    ('E1', 'A1', 'D2', 'G2')
    >>> parse_tuning("B0,E1,A1,D2,G2")
    ('B0', 'E1', 'A1', 'D2', 'G2')
    """
    if isinstance(given, str) and given.strip().casefold() in TUNINGS:
        return TUNINGS[given.strip().casefold()]
    names = re.split(r"[,\s]+", given.strip()) if isinstance(given, str) else list(given)
    if not any(names) or len(names) > _MOST_STRINGS:
        raise InputError(
            tr_later('tuning "{given}": {allowed}', given=str(given), allowed=_allowed())
        )
    try:
        numbers = [note_number(name) for name in names]
    except (ValueError, AttributeError) as error:
        guess = did_you_mean(str(given), list(TUNINGS))
        raise InputError(
            tr_later(
                'tuning "{given}": {why}.{guess} {allowed}',
                given=str(given),
                why=error.args[0],
                guess=guess,
                allowed=_allowed(),
            )
        ) from error
    if len(numbers) > 1 and all(low > high for low, high in pairwise(numbers)):
        raise InputError(
            tr_later(
                "tuning: runs from {highest} down to {lowest}; write the lowest string first.",
                highest=names[0],
                lowest=names[-1],
            )
        )
    return tuple(note_name(number) for number in numbers)


def with_tuning(session: Session, tuning: str | Sequence[str] | None) -> Session:
    """Return the session with this tuning on every instrument in it; unchanged for None.

    Raises
    ------
    InputError
        As :func:`parse_tuning`.
    """
    if tuning is None:
        return session
    notes = parse_tuning(tuning)
    instruments = {
        one.name: replace(one, tuning=notes)
        for one in (*session.instruments.values(), *map(session.instrument_of, session.stages))
    }
    return replace(session, instruments=instruments)


def _allowed() -> str:
    return tr_later(
        'Give the open strings with octave, lowest first, like "B0,E1,A1,D2,G2", or one of '
        "{names}.",
        names=tuple(TUNINGS),
    )
