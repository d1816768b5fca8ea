"""The view laid out as one HTML page: autoescaped, style inside, no outside address."""

from __future__ import annotations

import re
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from tonecompare.quantities.meanings import MEANINGS
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.terms import VERDICTS
from tonecompare.quantities.words import HEADLINE, PARTIALS, words_for
from tonecompare.report.page.view import PageView
from tonecompare.report.words.phrases import VERDICT_WORDS
from tonecompare.report.words.standing_texts import CAUTIONS, CONVENTIONS, LIMITS

_UNIT_GAP = re.compile(r"(?<=\d) (?=(?:dB|dBFS|Hz|kHz|ms|s|%|cents|µs|mm|plucks?|notes?)(?:\W|$))")


def _keep_together(text: Any) -> Markup:
    """Escape, and keep numbers and their units on one line."""
    return Markup(_UNIT_GAP.sub("\N{NO-BREAK SPACE}", str(escape(text))))


def environment() -> Environment:
    """Return what lays out this package's templates."""
    environment = Environment(
        loader=PackageLoader("tonecompare.report.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["together"] = _keep_together
    return environment


def page_html(view: PageView) -> str:
    """Return the text of ``index.html``."""
    return (
        environment()
        .get_template("index.html.j2")
        .render(
            page=view,
            definitions=[
                *((words_for(name).label, words_for(name).definition) for name in HEADLINE),
                ("Bands", words_for(BAND_SHAPES[0]).definition),
                ("Partials", words_for(PARTIALS[0]).definition),
            ],
            glossary=[(meaning.title, meaning.text) for meaning in MEANINGS],
            conventions=CONVENTIONS,
            limits=LIMITS,
            cautions=CAUTIONS,
            verdicts_legend=[(name, *VERDICT_WORDS[name], text) for name, text in VERDICTS.items()],
        )
    )
