"""What each cause other than the work is called in a list: "gain", "pick position"."""

from __future__ import annotations

from tonecompare.language import tr, tr_later

_NAMES = {
    "gain": tr_later("gain"),
    "pick-position": tr_later("pick position"),
    "pick-strength": tr_later("pick strength"),
    "glide": tr_later("glide of each pluck"),
    "tuning": tr_later("tuning"),
    "strings": tr_later("strings"),
    "load": tr_later("load"),
    "processing": tr_later("processing"),
    "mains": tr_later("mains"),
    "quiet": tr_later("quiet"),
    "sessions": tr_later("sessions"),
    "drift": tr_later("drift"),
}


def cause_name(kind: str) -> str:
    """Return what a kind of cause is called.

    Examples
    --------
    >>> cause_name("pick-position")
    'pick position'
    """
    return tr(_NAMES.get(kind, kind.replace("-", " ")))
