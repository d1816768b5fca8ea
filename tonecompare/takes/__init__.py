"""Where are quiet and plucks in a file, and is it whole? Read, find, cut, name and judge.

Load
    load_takes      one recording -> ``(takes, left_out)``

Data
    Take, Pluck, Quiet, Audio
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.takes.load import load_takes
    from tonecompare.takes.model import Audio, Pluck, Quiet, Take

#: Public name -> module of this package that holds it.
_HOME = {
    "Audio": "model",
    "Pluck": "model",
    "Quiet": "model",
    "Take": "model",
    "load_takes": "load",
}

__all__ = ["Audio", "Pluck", "Quiet", "Take", "load_takes"]

__getattr__, __dir__ = lazily(__name__, _HOME)
