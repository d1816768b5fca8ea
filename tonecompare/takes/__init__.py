"""Where are quiet and plucks in a file, and is it whole? Read, find, cut, name and judge.

Load
    load_takes      one recording -> ``(takes, left_out)``
    read_audio      one file -> ``Audio``, or a ``RecordingError`` that says what is wrong

Data
    Take, Pluck, Quiet, Audio

Judging
    FLAG_SENTENCES  what each flag of a pluck or file means
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.takes.judge_plucks import FLAG_SENTENCES
    from tonecompare.takes.load import load_takes
    from tonecompare.takes.model import Audio, Pluck, Quiet, Take
    from tonecompare.takes.read import read_audio

#: Public name -> module of this package that holds it.
_HOME = {
    "FLAG_SENTENCES": "judge_plucks",
    "Audio": "model",
    "Pluck": "model",
    "Quiet": "model",
    "Take": "model",
    "load_takes": "load",
    "read_audio": "read",
}

__all__ = ["FLAG_SENTENCES", "Audio", "Pluck", "Quiet", "Take", "load_takes", "read_audio"]

__getattr__, __dir__ = lazily(__name__, _HOME)
