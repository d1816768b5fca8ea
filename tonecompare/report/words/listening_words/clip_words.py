"""What clip files say of themselves: their names, cues and what was done to them."""

from __future__ import annotations

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
    return (
        f"Gain applied {number(gain_db, 2, signed=True)} dB. {number(loudness_lkfs, 1)} LKFS over "
        f"1 s from the onset (ITU-R BS.1770 K-weighting, one channel, no gating), true peak "
        f"{number(peak_dbtp, 1)} dBTP. Cut from {source} at {number(onset_s, 3)} s; nothing else "
        "but fades was done."
    )


def sequence_comment(first: str, second: str, gains_db: tuple[float, float]) -> str:
    """Return the comment of a sequence in turn."""
    one, other = (number(gain, 2, signed=True) for gain in gains_db)
    return f"In turn: A is {first} (gain applied {one} dB), B is {second} ({other} dB)."


def cue_label(letter: str, side: str) -> str:
    """Return the name of a marker: "A: heron-stock"."""
    return f"{letter}: {side}"
