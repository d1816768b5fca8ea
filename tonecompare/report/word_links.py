"""Quantities' names as links to what they mean: in headings always, in sentences at first use."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from markupsafe import Markup, escape

from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import PARTIALS, words_for
from tonecompare.report.words.names import slug

_TAG = re.compile(r"(<[^>]*>)")


def other_names(headline: Iterable[str]) -> dict[str, str]:
    """Return what else the quantities of the glossary are called in sentences, with their labels.

    Parameters
    ----------
    headline
        Columns of the quantities.
    """
    words = [words_for(name) for name in headline]
    return {one.noun: one.label for one in words if one.noun}


def family_names(bands: str, partials: str) -> dict[str, str]:
    """Return the labels of single bands and partials, with the word of the glossary for each.

    Parameters
    ----------
    bands, partials
        What the glossary calls the two families.
    """
    return {
        words_for(name).label: family
        for family, names in ((bands, BAND_SHAPES), (partials, PARTIALS))
        for name in names
    }


class WordLinks:
    """Links to the glossary of one page; a section begins with :meth:`anew`.

    Parameters
    ----------
    labels
        Words that the glossary explains.
    names
        Other names of theirs, with the word of the glossary for each.

    Examples
    --------
    >>> links = WordLinks(["Decay"], {"decay": "Decay"})
    >>> print(links.first_uses("decay up by 4 %, and decay again"))
    <a class="word" href="#word-decay">decay</a> up by 4 %, and decay again
    >>> print(links.heading("Decay"), links.heading("Q"))
    <a class="word" href="#word-decay">Decay</a> Q
    """

    def __init__(self, labels: Iterable[str], names: Mapping[str, str]) -> None:
        self._of = {label: label for label in labels}
        self._of |= {name: label for name, label in names.items() if label in self._of}
        longest = sorted(self._of, key=lambda name: -len(name))
        self._named = re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, longest))})(?![\w-])")
        self._told = set[str]()

    def anew(self) -> None:
        """Begin a section, in which each name is a link once more."""
        self._told.clear()

    def heading(self, text: str, shown: str | Markup = "") -> Markup:
        """Return a table's heading or a row's name as a link, or as it is when nothing explains it.

        Parameters
        ----------
        text
            The name.
        shown
            What is read, when it is not the name itself.
        """
        label = self._of.get(text)
        return self._link(label, shown or text) if label else escape(shown or text)

    def first_uses(self, text: str) -> Markup:
        """Return a sentence in which names that the section has not used before are links."""
        parts = _TAG.split(str(escape(text)))
        return Markup("".join(one if one[:1] == "<" else self._named.sub(self._first, one)
                              for one in parts))  # fmt: skip

    def _first(self, found: re.Match[str]) -> str:
        label = self._of[found[0]]
        if label in self._told:
            return found[0]
        self._told.add(label)
        return self._link(label, Markup(found[0]))

    def _link(self, label: str, shown: str | Markup) -> Markup:
        return Markup('<a class="word" href="#word-{}">{}</a>').format(slug(label), shown)
