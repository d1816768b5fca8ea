"""What a chart says: one short sentence from the verdicts, which becomes its title.

A title claims only what has a verdict in the table: what is undecided is said to be so, and what
something else could explain too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from tonecompare.compare.model import AcousticLikeness, Response
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.measure.outputs.results import BlendMap
from tonecompare.quantities.words import PARTIALS, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.tone_words import (
    RESONANCE,
    balance_unchanged,
    bands_worth_telling,
    hz_told,
    parts_of,
)
from tonecompare.report.words.numbers import listed, magnitude, number
from tonecompare.report.words.phrases import change, unchanged

#: What stands beside a chart on a page.
READ_HINT = tr_later("Touch the chart to read a value (keys: arrows).")
READ_NAME = tr_later("Values of this chart")
PICTURE = tr_later("Picture (SVG)")
NUMBERS = tr_later("Numbers of this chart")
#: Brackets with intervals, which a title leaves to the table.
_BRACKETS = re.compile(r" \([^()]*\)")
#: English "from 2.8 kHz up 4 dB down" reads "above 2.8 kHz 4 dB down" in a title.
_FROM_UP = re.compile(r"from ([\d.]+ k?Hz) up(?= )")
#: Nothing below this size is called a difference of the response, dB.
_LEAST_DB = 1.0


def chart_findings(rows: Sequence[Difference], title: str) -> Mapping[str, str]:
    """Return what the charts of one voice say, by their kind; without rows nothing.

    Parameters
    ----------
    rows
        The differences of one voice and output over all notes.
    title
        The voice's name for people.

    Returns
    -------
    dict of str to str
        ``{"decay": "Bridge: decay 12 % longer", …}``.
    """
    if not rows:
        return {}
    said: dict[str, Callable[[Sequence[Difference]], str]] = {
        "spectrum": _spectrum, "phrase": _phrase, "partials": _partials, "decay": _decay,
        "hum": _hum,
    }  # fmt: skip
    return {kind: f"{title}: {of(rows)}" for kind, of in said.items()}


def _spectrum(rows: Sequence[Difference]) -> str:
    level = [row for row in rows if row.quantity == "level_dbfs" and row.claimed]
    bands = bands_worth_telling(rows)
    claimed = [row for row in bands if row.claimed]
    confounded = [row for row in bands if row.verdict == "confounded"]
    moved = [row for row in rows if row.quantity == RESONANCE and row.claimed]
    parts = [*(_plain(change(row)) for row in level)]
    tone = sorted(parts_of(claimed or moved), key=lambda part: -part.lead.surely_thresholds)
    parts += [_plain(part.text) for part in tone[:1]]
    if parts:
        return "; ".join(parts)
    if confounded:
        (first, *_) = parts_of(confounded)
        return _doubted(_plain(first.text))
    return balance_unchanged(bands) or tr("no change of the tone is shown")


def _phrase(rows: Sequence[Difference]) -> str:
    parts = [_one(rows, "level_dbfs", tr("no change of the level is shown"))]
    bright = next((row for row in rows if row.quantity == "centroid_hz"), None)
    if bright is not None and bright.claimed:
        parts.append(_claim(bright))
    return "; ".join(parts)


def _partials(rows: Sequence[Difference]) -> str:
    there = [row for row in rows if row.quantity in PARTIALS and row.matters]
    claimed = [row for row in there if row.claimed]
    if claimed:
        first = max(claimed, key=lambda row: row.surely_thresholds)
        more = len(claimed) - 1
        said = _plain(change(first))
        if not more:
            return said
        others = tr_n("{n} more partial moved", "{n} more partials moved", more)
        return f"{said}; {others}"
    confounded = [row for row in there if row.verdict == "confounded"]
    if confounded:
        first = max(confounded, key=lambda row: row.surely_thresholds)
        return _doubted(_plain(change(first)))
    return tr("no single partial is shown to have moved")


def _decay(rows: Sequence[Difference]) -> str:
    return _one(rows, "decay_s", tr("no change of the decay is shown"))


def _hum(rows: Sequence[Difference]) -> str:
    parts = [
        text
        for name in ("hum_dbfs", "hiss_dbfs")
        for row in rows
        if row.quantity == name and (row.claimed or row.verdict == "confounded")
        for text in (_claim(row),)
    ]
    return listed(parts) or _one(rows, "hum_dbfs", tr("no change of the hum is shown"))


def _one(rows: Sequence[Difference], quantity: str, otherwise: str) -> str:
    row = next((row for row in rows if row.quantity == quantity), None)
    if row is None or row.difference is None:
        return tr("{noun} could not be compared", noun=words_for(quantity).noun)
    if row.claimed or row.verdict == "confounded":
        return _claim(row)
    return unchanged(row) if row.verdict == "no-change" else otherwise


def _claim(row: Difference) -> str:
    text = _plain(change(row))
    return _doubted(text) if row.verdict == "confounded" else text


def _doubted(text: str) -> str:
    return tr("{change}, but something else could explain it", change=text)


def _plain(text: str) -> str:
    return _FROM_UP.sub(r"above \1", _BRACKETS.sub("", text))


def response_finding(response: Response, title: str) -> str:
    """Say where a response rises and falls most, of what its band leaves no doubt.

    ``Bridge: 4.2 dB stronger at 1.8 kHz, 3.9 dB weaker at 4.5 kHz``
    """
    low, high, moved = response.ci_low_db, response.ci_high_db, response.difference_db
    said = []
    stronger, weaker = tr_later("{size} stronger at {hz}"), tr_later("{size} weaker at {hz}")
    for way, near, size in ((stronger, low, moved), (weaker, -high, -moved)):
        sure = np.where((near > 0.0) & (size >= _LEAST_DB), size, np.nan)
        if np.isfinite(sure).any():
            at = int(np.nanargmax(sure))
            text, _ = magnitude(float(moved[at]), float(low[at]), float(high[at]), "dB")
            where = hz_told(response.frequency_hz[at])
            said.append((float(sure[at]), tr(way, size=text, hz=where)))
    if not said:
        nowhere = tr("nowhere surely changed by {least} dB or more", least=number(_LEAST_DB, 0))
        return f"{title}: {nowhere}"
    return f"{title}: {', '.join(text for _, text in sorted(said, reverse=True))}"


def overview_finding(rows: Sequence[Difference]) -> str:
    """Say how many differences are likely to be heard: ``5 of 14 differences: likely audible``."""
    heard = sum(row.verdict == "likely-audible" for row in rows)
    shown = sum(row.verdict == "measurable" for row in rows)
    if heard:
        return tr_n(
            "The one difference is likely audible",
            "{heard} of {n} differences likely audible",
            len(rows),
            heard=heard,
        )
    if shown:
        return tr_n(
            "The one difference is measurable, not likely audible",
            "None of {n} differences likely audible, {shown} measurable",
            len(rows),
            shown=shown,
        )
    return tr_n("The one difference is not shown", "None of {n} differences is shown", len(rows))


def blend_finding(found: BlendMap) -> str:
    """Say where the two outputs, as wired, take most from each other."""
    wired = found.interaction_db[0]
    if not np.isfinite(wired).any():
        return ""
    ratio, band = np.unravel_index(int(np.nanargmin(wired)), wired.shape)
    deepest = float(wired[ratio, band])
    if deepest > -_LEAST_DB:
        return tr("As wired, no ratio thins the sound by 1 dB")
    return tr(
        "As wired it thins most, by {size} dB, at {hz} ({percent} % piezo)",
        size=number(-deepest, 1),
        hz=hz_told(float(found.band_hz[band])),
        percent=round(100.0 * float(found.ratio[ratio])),
    )


def likeness_finding(found: AcousticLikeness) -> str:
    """Say which ratio comes nearest to the reference."""
    if not np.isfinite(found.distance).any():
        return ""
    polarity, ratio = np.unravel_index(int(np.nanargmin(found.distance)), found.distance.shape)
    percent = round(100.0 * float(found.ratio[ratio]))
    if polarity == 0:
        return tr("Nearest at {percent} % piezo, as wired", percent=percent)
    return tr("Nearest at {percent} % piezo, with one output inverted", percent=percent)
