"""What became of one voice in plain words: louder, less treble, rings longer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tonecompare.language import tr, tr_as, tr_later
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.tone_words import CENTROID, bands_worth_telling
from tonecompare.report.words.numbers import about, listed
from tonecompare.report.words.phrases import THAN_SISTER

#: So many hearing thresholds are "much" and "clearly"; less is "a little".
_MUCH, _CLEARLY = 5.0, 2.0
_PARTS_TOLD = 3


@dataclass(frozen=True)
class Idea:
    """One thing a player asks: which quantities answer it, and how the answer is said.

    ``less`` and ``more`` take a degree ("much louder"), ``same`` takes "as before"; ``verb``
    stands before them. All are English, to be said by :func:`~tonecompare.language.tr`.
    """

    name: str
    quantities: tuple[str, ...]
    verb: str
    less: str
    more: str
    same: str


#: Loudness, bass, treble, sustain, hum and buzz, in the order they are told and drawn. Below 350 Hz
#: is the bass of a guitar; from 1.4 kHz up is what a coil's resonance moves.
IDEAS = (
    Idea(
        tr_later("Loudness"), ("level_dbfs",),
        tr_later("is"), tr_later("quieter"), tr_later("louder"), tr_later("as loud"),
    ),
    Idea(
        tr_later("Bass"), BAND_SHAPES[:3],
        tr_later("has"), tr_later("less bass"), tr_later("more bass"), "",
    ),
    Idea(
        tr_later("Treble"), BAND_SHAPES[5:],
        tr_later("has"), tr_later("less treble"), tr_later("more treble"), "",
    ),
    Idea(
        tr_later("Sustain"), ("decay_s",),
        tr_later("rings"), tr_later("shorter"), tr_later("longer"), tr_later("as long"),
    ),
    Idea(
        tr_later("Hum"), ("hum_dbfs",),
        tr_later("has"), tr_later("less hum"), tr_later("more hum"), "",
    ),
    Idea(
        tr_later("Buzz"), ("buzz_dbfs",),
        tr_later("has"), tr_later("less buzz"), tr_later("more buzz"), "",
    ),
)  # fmt: skip
#: What is heard in the pauses, not in a note.
IN_PAUSES = ("hum_dbfs", "buzz_dbfs")
#: What answers for the treble where no band does: per cent of it are no per cent of treble.
_BRIGHTNESS = Idea(
    tr_later("Brightness"),
    (CENTROID,),
    tr_later("is"),
    tr_later("darker"),
    tr_later("brighter"),
    "",
)


def plain_row(idea: Idea, rows: Sequence[Difference]) -> Difference | None:
    """Return the difference of one voice that answers an idea, None when nothing does.

    Of several bands the one that is surely the farthest moved speaks; where no band is worth
    telling the centroid answers for the treble.
    """
    if len(idea.quantities) == 1:
        found = [row for row in rows if row.quantity == idea.quantities[0]]
    else:
        found = [row for row in bands_worth_telling(rows) if row.quantity in idea.quantities]
        if not found and idea.name == "Treble":
            found = [row for row in rows if row.quantity == CENTROID]
    found = [row for row in found if row.difference is not None]
    return max(found, key=lambda row: (row.matters, row.telling), default=None)


def _degree(row: Difference) -> str:
    size = abs(row.in_thresholds or 0.0)
    if not size:
        return ""
    if size >= _MUCH:
        return tr_as("degree", "much") + " "
    return (tr("clearly") if size >= _CLEARLY else tr("a little")) + " "


def changes_said(rows: Sequence[Difference]) -> tuple[str, bool]:
    """Say what changed of one voice, and whether any of it is likely to be heard.

    Returns
    -------
    tuple of str and bool
        ``("is clearly louder (2.9 dB) and has clearly less treble (4.4 dB)", True)``; "" when
        nothing is claimed.
    """
    found = [(idea, row) for idea in IDEAS if (row := plain_row(idea, rows)) is not None]
    claimed = [(idea, row) for idea, row in found if row.claimed]
    heard = [(idea, row) for idea, row in claimed if row.verdict == "likely-audible"]
    told = (heard or claimed)[:_PARTS_TOLD]
    said, verb = list[str](), ""
    for asked, row in told:
        idea = _BRIGHTNESS if row.quantity == CENTROID else asked
        size = row.difference or 0.0
        word = _degree(row) + tr(idea.more if size > 0 else idea.less)
        lead = "" if idea.verb == verb else f"{tr(idea.verb)} "
        said.append(f"{lead}{word} ({about(size, row.unit)})")
        verb = idea.verb
    than = f" {tr(THAN_SISTER)}" if said and any(row.sisters for _, row in told) else ""
    return listed(said) + than, bool(heard)


def heard_alike(voices: Sequence[Sequence[Difference]]) -> str:
    """Return what is likely heard of each of some voices and has a noun, as ``much less buzz``.

    "" where they differ in it, where more than one thing is heard, or where it is said of a voice
    by an adjective alone ("louder").
    """
    said = set()
    for rows in voices:
        found = [(idea, row) for idea in IDEAS if (row := plain_row(idea, rows)) is not None]
        heard = [(idea, row) for idea, row in found if row.verdict == "likely-audible"]
        if len(heard) != 1 or heard[0][0].verb != "has" or heard[0][1].quantity == CENTROID:
            return ""
        idea, row = heard[0]
        said.add(_degree(row) + tr(idea.more if (row.difference or 0.0) > 0.0 else idea.less))
    return said.pop() if len(said) == 1 else ""


def same_said(rows: Sequence[Difference], as_what: str) -> str:
    """Say what stayed: ``is as loud and rings as long as before``; "" when nothing is shown to.

    ``as_what`` is translated: "before", "the other".
    """
    said = [
        f"{tr(idea.verb)} {tr(idea.same)}"
        for idea in IDEAS
        if idea.same and (row := plain_row(idea, rows)) is not None and row.verdict == "no-change"
    ]
    return tr("{same} as {what}", same=listed(said), what=as_what) if said else ""
