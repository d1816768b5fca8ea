"""One fault in words, whatever its kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.language import tr
from tonecompare.report.words.check_words.file_words import OF_FILES
from tonecompare.report.words.check_words.level_words import OF_LEVELS
from tonecompare.report.words.check_words.note_words import OF_NOTES
from tonecompare.report.words.check_words.played_words import OF_MUSIC
from tonecompare.report.words.check_words.stage_words import OF_STAGES
from tonecompare.report.words.check_words.told import Told

#: What is said of a fault, by its kind.
WORDS: Mapping[str, Callable[[Fault], Told]] = {
    **OF_FILES, **OF_LEVELS, **OF_MUSIC, **OF_NOTES, **OF_STAGES,
}  # fmt: skip


def kind_told(kind: str) -> str:
    """Return what a kind of fault is called."""
    return tr(kind)


def told(fault: Fault) -> Told:
    """Return one fault in words.

    Parameters
    ----------
    fault
        Kind and data as :mod:`tonecompare.compare.check` finds them.

    Raises
    ------
    KeyError
        When the kind is none that check finds.

    Examples
    --------
    >>> told(Fault("doubled channel", "note", "stock", "neck", "neck.wav", None)).what
    'Both channels are identical; one was used.'
    """
    return WORDS[fault.kind](fault)
