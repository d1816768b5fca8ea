"""The view laid out as one HTML page: autoescaped, style inside, no outside address.

A section of the page is a template of its own with one include line in ``index.html.j2``. It opens
with ``{{ heading("bench", "At the bench") }}``, which writes the heading and files it, so that the
navigation names every section by itself, in the order of the page. A long title takes a short name
for the navigation: ``{{ heading("worth", "Was it worth it", nav="Worth") }}``.
"""

from __future__ import annotations

import operator
import re
from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from tonecompare.language import language, tr, tr_as, tr_n
from tonecompare.quantities.meanings import MEANINGS
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.terms import VERDICTS, WORDS
from tonecompare.quantities.words import HEADLINE, PARTIALS, words_for
from tonecompare.report.page.table_cells import label_cells
from tonecompare.report.page.view import PageView
from tonecompare.report.word_links import WordLinks, family_names, other_names
from tonecompare.report.words import standing_texts as player_words
from tonecompare.report.words.finding_words import chart_titles as chart_words
from tonecompare.report.words.names import slug, visible
from tonecompare.report.words.numbers import listed
from tonecompare.report.words.phrases import VERDICT_WORDS
from tonecompare.report.words.standing_texts import CAUTIONS, CONVENTIONS, LIMITS

#: Words of Hebrew, Arabic and their kin, with what stands between them.
_RTL = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"
_RIGHT_TO_LEFT = re.compile(rf"[{_RTL}](?:[{_RTL}\s_-]*[{_RTL}])?")
#: Stay on one line with the number before them, in every language; others are the catalogue's.
_UNITS = "dB|dBFS|Hz|kHz|ms|s|h|%|µs|mm"
_KEPT = "\N{NO-BREAK SPACE}"
_SAMPLE_SIZE = re.compile(r"(?:\bn = (?:je )?|± )(?=\d)")


@dataclass(frozen=True)
class SectionName:
    """One section: ``anchor`` is its id, ``nav`` what the navigation calls it."""

    anchor: str
    title: str
    nav: str


class SectionNames:
    """Collects the sections while a page is laid out; one for each page.

    Parameters
    ----------
    begun
        What is to be done when a section begins.

    Examples
    --------
    >>> names = SectionNames()
    >>> str(names.heading("worth", "Was it worth it", nav="Worth"))
    '<h2 id="worth">Was it worth it</h2>'
    >>> [one.nav for one in names.named]
    ['Worth']
    """

    def __init__(self, begun: Callable[[], None] = lambda: None) -> None:
        self.named: list[SectionName] = []
        self._begun = begun

    def heading(self, anchor: str, title: str, nav: str = "") -> Markup:
        """Return the heading of a section and file it for the navigation.

        Parameters
        ----------
        anchor
            Its id, unlike every other on the page.
        title
            Its heading, plain text; escaped here.
        nav
            Its name in the navigation; the title when left out.

        Raises
        ------
        ValueError
            Another section has this id.
        """
        if any(one.anchor == anchor for one in self.named):
            raise ValueError(f"anchor={anchor!r} names two sections: give each its own id.")
        self._begun()
        self.named.append(SectionName(anchor, title, nav or title))
        return Markup('<h2 id="{}">{}</h2>').format(anchor, visible(title))


def _keep_together(text: Any) -> Markup:
    """Escape, and keep numbers and their units on one line."""
    counted = tr_as("stay on one line with their number", "cents pluck plucks note notes").split()
    gap = rf"(?<=\d) (?=(?:{'|'.join((_UNITS, *map(re.escape, counted)))})(?:\W|$))"
    kept = re.sub(gap, _KEPT, str(escape(_shown(text))))
    return Markup(_SAMPLE_SIZE.sub(lambda found: found[0].replace(" ", _KEPT), kept))


def _hyphenated(text: str) -> Markup:
    """Escape, and let the words break that would be wider than a narrow column."""
    whole = str(escape(_shown(text)))
    for word in tr_as("words that may break at |, or none", "none").split():
        whole = whole.replace(word.replace("|", ""), word.replace("|", "\N{SOFT HYPHEN}"))
    return Markup(whole)


def _shown(value: Any) -> Any:
    """Make control and direction marks of a plain text visible; markup is ours and stays.

    Names in letters that run from right to left stand apart, so that the numbers beside them keep
    their places (Unicode standard annex 9: first strong isolate).
    """
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return _RIGHT_TO_LEFT.sub("\u2068\\g<0>\u2069", visible(value))


def tr_html(text: str, /, **values: Any) -> Markup:
    """Return a text that the program wrote with markup in its places; plain values are escaped."""
    return Markup(tr(text)).format(**values)


@cache
def environment(package: str = "tonecompare.report.page") -> Environment:
    """Return what lays out a package's templates, each translated into Python once."""
    environment = Environment(
        loader=PackageLoader(package, "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_shown,
    )
    environment.filters["together"] = _keep_together
    environment.filters["linked"] = escape  # every page sets its own
    environment.filters["hyphenated"] = _hyphenated
    environment.globals["chart_words"] = chart_words
    environment.filters["slug"] = slug
    environment.globals.update(
        tr=tr, tr_n=tr_n, tr_as=tr_as, tr_html=tr_html, language=language, listed=listed
    )
    environment.tests["contains"] = operator.contains
    return environment


def policy(style: str, script: str) -> str:
    """Return a Content-Security-Policy that lets a page run this style and script and no others.

    Nothing may be loaded but pictures inside the page and sounds beside it.
    """
    style_hash, script_hash = (
        b64encode(sha256(text.encode("utf-8")).digest()).decode("ascii") for text in (style, script)
    )
    return (
        f"default-src 'none'; script-src 'sha256-{script_hash}'; style-src 'sha256-{style_hash}'; "
        "img-src data:; media-src 'self' file:; base-uri 'none'; form-action 'none'"
    )


def page_html(view: PageView, *, sheet_only: bool = False) -> str:
    """Return the text of ``index.html``.

    Parameters
    ----------
    view
        What it shows.
    sheet_only
        Whether its print is the sheet alone, one page of A4 or Letter.
    """
    laid_out = environment()
    bands, partials = tr("Bands"), tr("Partials")
    words = WordLinks(
        [*(words_for(name).label for name in HEADLINE), bands, partials],
        other_names(HEADLINE) | family_names(bands, partials),
    )
    names = SectionNames(words.anew)
    laid_out.filters["linked"] = words.first_uses
    style = Markup(laid_out.get_template("style.css.j2").render())
    scripts = ("player.js.j2", "page.js.j2")
    script = Markup("\n".join(laid_out.get_template(name).render() for name in scripts))
    return laid_out.get_template("index.html.j2").render(
        page=view,
        sheet_only=sheet_only,
        heading=names.heading,
        word=words.heading,
        label_cells=label_cells,
        trade_words=WORDS.items(),
        section_names=names,
        style=style,
        script=script,
        policy=policy(style, script),
        player_words=player_words,
        definitions=[
            *((words_for(name).label, words_for(name).definition) for name in HEADLINE),
            (bands, words_for(BAND_SHAPES[0]).definition),
            (partials, words_for(PARTIALS[0]).definition),
        ],
        glossary=[(meaning.title, meaning.text) for meaning in MEANINGS],
        conventions=CONVENTIONS,
        limits=LIMITS,
        cautions=CAUTIONS,
        verdicts_legend=[
            (name, VERDICT_WORDS[name][0], tr(VERDICT_WORDS[name][1]), tr(text))
            for name, text in VERDICTS.items()
        ],
    )
