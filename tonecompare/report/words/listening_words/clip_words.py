"""What clip files say of themselves: their names, cues and what was done to them."""

from __future__ import annotations

from tonecompare.language import tr
from tonecompare.report.words.names import slug, voice_title
from tonecompare.report.words.numbers import number


def clip_stem(comparison: str, voice: str, output: str, note: str) -> str:
    """Return the file name stem of a pair of clips."""
    return slug(f"{comparison} {voice} {output} {note.replace('#', ' sharp')}", longest=120)


def clip_title(comparison: str, voice: str, note: str, side: str) -> str:
    """Return the title inside a clip's tags."""
    return f"{comparison}: {voice_title(voice)}, {note}, {side}"


def clip_comment(
    *, gain_db: float, loudness_lkfs: float, peak_dbtp: float, source: str, onset_s: float
) -> str:
    """Return the comment inside a clip's tags: the gain, the loudness, and where it was cut."""
    return tr(
        "Gain applied {gain} dB. {loudness} LKFS over 1 s from the onset (ITU-R BS.1770 "
        "K-weighting, one channel, no gating), true peak {peak} dBTP. Cut from {source} at {onset} "
        "s; nothing else but fades was done.",
        gain=number(gain_db, 2, signed=True),
        loudness=number(loudness_lkfs, 1),
        peak=number(peak_dbtp, 1),
        source=source,
        onset=number(onset_s, 3),
    )


def sequence_comment(first: str, second: str, gains_db: tuple[float, float]) -> str:
    """Return the comment of a sequence in turn."""
    one, other = (number(gain, 2, signed=True) for gain in gains_db)
    return tr(
        "In turn: A is {first} (gain applied {gain} dB), B is {second} ({other_gain} dB).",
        first=first,
        gain=one,
        second=second,
        other_gain=other,
    )


def cue_label(letter: str, side: str) -> str:
    """Return the name of a marker: "A: heron-stock"."""
    return f"{letter}: {side}"
