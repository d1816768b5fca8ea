"""Where a voice stands on the selector and what it is: split, magnetic, piezo or blend.

From session.toml where that says it, else from the voice's name.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from tonecompare.session.model import Session

_SPLIT = re.compile(r"[-_ ](?:split|tap|tapped)$")
_PIEZO = re.compile(r"(?:^|[-_ ])(?:piezo|saddle|transducer)(?:$|[-_ ])")
_BLEND = re.compile(r"(?:^|[-_ ])(?:blend|mix)(?:$|[-_ ])")
#: Where a magnetic pickup sits, counted from the bridge; voices stand in this order.
_PLACES = {"bridge": 0.0, "middle": 1.0, "neck": 2.0}


def selector_place(session: Session, voice: str) -> tuple[float, str]:
    """Return what voices are put in order by: from the bridge to the neck, all others last."""
    places = [_PLACES[name] for name in session.voice(voice).magnetic_pickups if name in _PLACES]
    if not places and voice.casefold().split("-")[0] == "both":
        return _PLACES["middle"], voice
    return (sum(places) / len(places) if places else 9.0), voice


def is_split(session: Session, voice: str) -> bool:
    """Whether a voice is one coil of a pickup with two."""
    told = session.told_voice(voice)
    return told.split if told is not None else bool(_SPLIT.search(voice.casefold()))


def whole_of(session: Session, voice: str, voices: Collection[str]) -> str:
    """Return the voice a split is one coil of, "" where it is no split or its whole is missing.

    By the same pickups where session.toml names them, else by the name: "neck-split", "neck".
    """
    if not is_split(session, voice):
        return ""
    pickups = session.voice(voice).pickups
    for one in voices:
        if pickups and session.voice(one).pickups == pickups and not is_split(session, one):
            return one
    plain = _SPLIT.sub("", voice.casefold())
    return next((one for one in voices if one.casefold() == plain), "")


def of_one_pickup(session: Session, voice: str) -> bool:
    """Whether one magnetic pickup sounds alone, as far as pickups or name tell."""
    words = set(re.split(r"[-_ ]", voice.casefold()))
    return len(session.voice(voice).magnetic_pickups) < 2 and not words & {"both", "and"}


def output_kind(session: Session, voice: str, output: str) -> str:
    """Return "magnetic", "piezo" or "blend": what the channel carries, or else what is said of it.

    A mono recording counts as magnetic unless session.toml or its name says otherwise: "piezo",
    "bridge-and-piezo", "blend".
    """
    if output != "magnetic":
        return output
    told = session.told_voice(voice)
    if told is not None and len(told.outputs) > 1:
        return "magnetic"
    name = voice.casefold()
    if _BLEND.search(name):
        return "blend"
    if not _PIEZO.search(name):
        return "magnetic"
    return "blend" if re.sub(_PIEZO, "", name).strip("-_ 0123456789") else "piezo"


def is_whole_magnetic(session: Session, voice: str) -> bool:
    """Whether a voice is of magnetic pickups, none of them split."""
    return output_kind(session, voice, "magnetic") == "magnetic" and not is_split(session, voice)
