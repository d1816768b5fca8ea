"""24-bit WAV with markers and tags inside, after the RIFF standard, and WebVTT beside it.

Chunks: ``fmt ``, ``LIST INFO`` (tags), ``cue `` (a point each), ``LIST adtl`` (``labl`` its name,
``ltxt`` its length, so that editors show regions), ``data``. Multimedia Programming Interface and
Data Specifications 1.0 (1991), chapters 2 and 3.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray

_BYTES = 3
_FULL_SCALE = 2.0**23


@dataclass(frozen=True)
class Cue:
    """A named stretch of a file, in samples."""

    label: str
    start: int
    length: int


def whole_numbers(samples: FloatArray) -> NDArray[np.int32]:
    """Return 24-bit samples as whole numbers, full scale ``2^23``."""
    return np.round(np.clip(samples, -1.0, 1.0 - 1.0 / _FULL_SCALE) * _FULL_SCALE).astype(np.int32)


def wave_bytes(
    values: NDArray[np.int32],
    rate_hz: int,
    *,
    cues: Sequence[Cue] = (),
    tags: Mapping[str, str] | None = None,
) -> bytes:
    """Return the bytes of a WAV file of one channel.

    Parameters
    ----------
    values
        24-bit samples, shape (n,).
    rate_hz
        Sample rate.
    cues
        Markers.
    tags
        Text by four-letter INFO name (``INAM`` title, ``ICMT`` comment, ``ISFT`` software).
    """
    data = values.astype("<i4").view(np.uint8).reshape(-1, 4)[:, :_BYTES].tobytes()
    head = struct.pack("<HHIIHH", 1, 1, rate_hz, rate_hz * _BYTES, _BYTES, 8 * _BYTES)
    parts = [_chunk(b"fmt ", head)]
    if tags:
        texts = [_chunk(name.encode("ascii"), _text(text)) for name, text in tags.items()]
        parts.append(_chunk(b"LIST", b"INFO" + b"".join(texts)))
    if cues:
        points = [
            struct.pack("<II4sIII", number, cue.start, b"data", 0, 0, cue.start)
            for number, cue in enumerate(cues, start=1)
        ]
        parts.append(_chunk(b"cue ", struct.pack("<I", len(cues)) + b"".join(points)))
        named = [
            _chunk(b"labl", struct.pack("<I", number) + _text(cue.label))
            + _chunk(b"ltxt", struct.pack("<II4sHHHH", number, cue.length, b"rgn ", 0, 0, 0, 0))
            for number, cue in enumerate(cues, start=1)
        ]
        parts.append(_chunk(b"LIST", b"adtl" + b"".join(named)))
    parts.append(_chunk(b"data", data))
    return _chunk(b"RIFF", b"WAVE" + b"".join(parts))


def _chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def _text(text: str) -> bytes:
    return text.encode("utf-8", "replace") + b"\0"


def web_vtt(cues: Sequence[Cue], rate_hz: float) -> str:
    """Return cues as WebVTT (W3C), which players and editors show as captions."""
    lines = ["WEBVTT", ""]
    for cue in cues:
        ends = (cue.start / rate_hz, (cue.start + cue.length) / rate_hz)
        lines += [" --> ".join(map(_clock, ends)), cue.label.replace("-->", "to"), ""]
    return "\n".join(lines)


def _clock(time_s: float) -> str:
    ms = round(1000.0 * time_s)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"
