"""Which codec does a WAV file say that its samples are in, where they are no plain numbers?"""

from __future__ import annotations

#: Format tags of the ``fmt`` chunk (RFC 2361, Windows' mmreg.h) -> what the codec is called.
_NAMES = {
    0x0002: "Microsoft ADPCM", 0x0006: "A-law", 0x0007: "µ-law", 0x0011: "IMA ADPCM",
    0x0031: "GSM 6.10", 0x0050: "MPEG layer I or II", 0x0055: "MP3", 0x0092: "Dolby AC-3",
    0x00FF: "AAC", 0x0160: "Windows Media Audio 1", 0x0161: "Windows Media Audio 2",
    0x0162: "Windows Media Audio Pro", 0x0163: "Windows Media Audio lossless", 0x2000: "Dolby AC-3",
    0x2001: "DTS", 0x1610: "AAC", 0xF1AC: "FLAC",
}  # fmt: skip
_PCM, _FLOAT, _EXTENSIBLE = 0x0001, 0x0003, 0xFFFE


def codec_of_wave(head: bytes) -> str | None:
    """Return the codec that a WAV header names.

    Parameters
    ----------
    head
        The first bytes of a file.

    Returns
    -------
    str or None
        Its name, "format 0x1234" where none is known; None for plain numbers (PCM, floating
        point), for anything but a WAV file, and where the header breaks off before it says.

    Examples
    --------
    >>> fmt = b"fmt " + (16).to_bytes(4, "little") + (0x55).to_bytes(2, "little") + bytes(14)
    >>> codec_of_wave(b"RIFF" + bytes(4) + b"WAVE" + fmt)
    'MP3'
    """
    if head[:4] not in (b"RIFF", b"RF64") or head[8:12] != b"WAVE":
        return None
    at = 12
    while at + 10 <= len(head):
        size = int.from_bytes(head[at + 4 : at + 8], "little")
        if head[at : at + 4] == b"fmt ":
            tag = int.from_bytes(head[at + 8 : at + 10], "little")
            if tag == _EXTENSIBLE and at + 34 <= len(head):  # the first bytes of the sub-format
                tag = int.from_bytes(head[at + 32 : at + 34], "little")
            if tag in (0, _PCM, _FLOAT, _EXTENSIBLE):
                return None
            return _NAMES.get(tag, f"format 0x{tag:04x}")
        at += 8 + size + size % 2
    return None
