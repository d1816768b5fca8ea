"""In which language is it said?

English stands in the code, where :func:`tr` is called; the catalogue of another language is a
GNU gettext file below this room, ``<language>/LC_MESSAGES/tonecompare.po``, and what is compiled
from it.
"""

from tonecompare.language.catalogue import (
    ENGLISH,
    SaidLater,
    in_language,
    language,
    languages,
    tr,
    tr_as,
    tr_later,
    tr_n,
)

__all__ = [
    "ENGLISH",
    "SaidLater",
    "in_language",
    "language",
    "languages",
    "tr",
    "tr_as",
    "tr_later",
    "tr_n",
]
