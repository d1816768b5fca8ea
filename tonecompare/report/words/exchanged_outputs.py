"""Two-channel voices whose channels look exchanged: what is said, left out and marked."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from tonecompare.compare.model import BenchSign
from tonecompare.language import tr, tr_later
from tonecompare.measure.flags import Flag
from tonecompare.report.words.names import voice_title

#: What is said of exchanged channels, and what mends it without a new recording.
SWAPPED_WHAT = tr_later(
    "The channel said to be the piezo has the comb of a pickup, and the one said to be magnetic "
    "has none: the two are exchanged."
)
SWAPPED_REMEDY = tr_later(
    'Write outputs = ["piezo", "magnetic"] for this voice into session.toml (or the other way '
    "round, if that stands there), or exchange the channels of the file."
)
#: Flag of such a voice's rows in ``blend.csv``.
EXCHANGED_FLAG = Flag("outputs-exchanged")


def exchanged_voices(signs: Iterable[BenchSign]) -> frozenset[tuple[str, str]]:
    """Return stage and voice of every two-channel voice whose channels look exchanged."""
    return frozenset((sign.stage, sign.voice) for sign in signs if sign.kind == "outputs")


def exchanged_sentence() -> str:
    """Say in the section on two outputs what is left out, and what to do."""
    left_out = tr(
        "The channels of this voice look exchanged, so delay, polarity, levels, attack, advice, "
        "blend map and clips are left out."
    )
    return f"{left_out} {tr(SWAPPED_REMEDY)}"


def exchanged_finding(stage: str, voice: str) -> str:
    """Say among the findings that a voice's channels look exchanged, and what to do."""
    said = tr(
        "{voice} at {stage}: the magnetic and the piezo channel look exchanged, so what is said of "
        "one of them is said of the other, and how they go together is left out.",
        voice=voice_title(voice),
        stage=stage,
    )
    return f"{said} {tr(SWAPPED_REMEDY)}"


def marked_blend(table: pd.DataFrame, signs: Iterable[BenchSign]) -> pd.DataFrame:
    """Return the rows of ``blend.csv``, those of exchanged channels with a flag that says so."""
    exchanged = exchanged_voices(signs)
    if not exchanged or not len(table):
        return table
    marked = table.copy()
    keys = zip(table["stage"], table["voice"], table["flags"], strict=True)
    marked["flags"] = [
        (*flags, EXCHANGED_FLAG) if (stage, voice) in exchanged else flags
        for stage, voice, flags in keys
    ]
    return marked
