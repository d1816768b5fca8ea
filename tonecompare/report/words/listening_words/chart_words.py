"""Titles and numbers of pictures that make one statement, and how sure each is."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.language import tr, tr_as, tr_later, tr_n
from tonecompare.quantities.words import words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import signed_parts
from tonecompare.report.words.phrases import NOT_SHOWN, VERDICT_WORDS

#: Words of a title, the number beside them not counted.
MOST_WORDS = 6
CLOSING = tr_later("What differs")
NOTHING = tr_later("No difference was shown")
NOT_NONE = tr_later("which is not the same as none")
NO_SHIFT = tr_later("zero lies inside the 95 % band throughout")


def title_of(*parts: str) -> str:
    """Return a title of at most six words: a voice's name gives way to what is measured."""
    words = " ".join(parts).split()
    if len(words) <= MOST_WORDS:
        return " ".join(words)
    last = parts[-1].split()
    kept = " ".join(parts[:-1]).split()[: max(MOST_WORDS - len(last), 0)]
    return " ".join([*kept, *last][:MOST_WORDS])


def voice_says(title: str, quantity: str) -> str:
    """Return the title of one voice and quantity: "Bridge: decay time"."""
    return title_of(f"{title}:", inside(words_for(quantity).label))


def inside(label: str) -> str:
    """Return a label as it stands inside a sentence, small where the language writes it so."""
    small = tr_as("labels inside a sentence", "small") == "small"
    return label[:1].lower() + label[1:] if small else label


def size_of(row: Difference) -> str:
    """Return the number of a difference with sign and unit: "−11 %"."""
    if row.difference is None:
        return ""
    return signed_parts(row.difference, row.ci_low, row.ci_high, row.unit)[0]


def how_sure(row: Difference, heard: str = "") -> str:
    """Return verdict and interval: "likely audible, 95 %: −14 to −8".

    What a passed blind test says (``heard``) stands in place of the verdict's words.
    """
    words = heard or tr(VERDICT_WORDS.get(row.verdict, NOT_SHOWN)[1])
    if row.difference is None or row.ci_low is None or row.ci_high is None:
        return words
    ends = signed_parts(row.difference, row.ci_low, row.ci_high, row.unit)[1]
    return f"{words}, 95 %: {ends}".replace("95 %: ", "95\N{NO-BREAK SPACE}%: ").replace(
        ends, ends.replace(" ", "\N{NO-BREAK SPACE}")
    )


def of_voices(rows: Sequence[Difference]) -> str:
    """Return how many voices moved: "3 of 5 voices shown to differ"."""
    moved = sum(row.claimed for row in rows)
    return tr_n(
        "{moved} of {n} voice shown to differ",
        "{moved} of {n} voices shown to differ",
        len(rows),
        moved=moved,
    )
