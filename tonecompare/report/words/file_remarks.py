"""What is said of an input file."""

from __future__ import annotations

from tonecompare.language import tr
from tonecompare.measure.model import FileRecord


def file_remarks(record: FileRecord) -> tuple[str, ...]:
    """Return the sentences on a file: what reading it found, and mains asked for in vain.

    Examples
    --------
    >>> record = FileRecord("a.wav", "", 48000.0, 1, "PCM_24", 9.0, "s", "v", 0, (), ((50, 60),))
    >>> file_remarks(record)[0][:42]
    'A mains frequency of 60 Hz was asked for ('
    """
    asked = tuple(
        tr(
            "A mains frequency of {asked} Hz was asked for (--mains, or mains_hz in session.toml), "
            "but the hum's lines stand at {stands} Hz and its multiples: they are not in hum_dbfs "
            "and buzz_dbfs. Ask for {stands} Hz, or for none, and it is found.",
            asked=asked,
            stands=stands,
        )
        for stands, asked in dict.fromkeys(record.mains_asked)
    )
    return (*map(tr, record.problems), *asked)
