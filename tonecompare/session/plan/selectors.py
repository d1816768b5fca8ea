"""Which voices a selector gives: common layouts, splits, and what an added piezo brings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.session.model import Voice
from tonecompare.session.naming import clean_name, did_you_mean, listed, match_key

#: Layout -> voices in the order of the switch, each with the pickups that sound.
LAYOUTS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "one": {"bridge": ("bridge",)},
    "three-way": {
        "bridge": ("bridge",),
        "bridge-neck": ("bridge", "neck"),
        "neck": ("neck",),
    },
    "four-way": {
        "bridge": ("bridge",),
        "bridge-neck": ("bridge", "neck"),
        "neck": ("neck",),
        "bridge-neck-series": ("bridge", "neck"),
    },
    "five-way": {
        "bridge": ("bridge",),
        "bridge-middle": ("bridge", "middle"),
        "middle": ("middle",),
        "middle-neck": ("middle", "neck"),
        "neck": ("neck",),
    },
}
#: What each choice of outputs adds to the voices of the selector.
OUTPUT_CHOICES = ("magnetic", "piezo", "both")
_SPLIT = "-split"


def planned_voices(
    layout: str | Sequence[str], *, splits: Sequence[str] = (), outputs: str = "magnetic"
) -> tuple[Voice, ...]:
    """Return the voices to record.

    Parameters
    ----------
    layout
        Name of one of :data:`LAYOUTS`, or the names of the voices in the order of the switch.
    splits
        Voices whose humbucker can be split; each gives a second voice, "neck-split".
    outputs
        "magnetic"; "piezo" (the saddle piezo alone); or "both": the magnetic voices, the piezo
        alone, both on two channels of one file (stereo jack), and the finished blend.

    Raises
    ------
    InputError
        For an unknown layout, a split of a voice that is not there, and double names.
    """
    if outputs not in OUTPUT_CHOICES:
        guess = did_you_mean(outputs, OUTPUT_CHOICES)
        raise InputError(
            tr(
                'outputs is "{outputs}"; {choices} is allowed.{guess}',
                outputs=outputs,
                choices=listed(OUTPUT_CHOICES, join="or"),
                guess=guess,
            )
        )
    magnetic = _with_splits(_selector(layout), splits)
    piezo = Voice("piezo", outputs=("piezo",))
    if outputs == "magnetic":
        voices = magnetic
    elif outputs == "piezo":
        voices = (piezo,)
    else:
        first = magnetic[0]
        two = Voice(f"{first.name}-and-piezo", pickups=first.pickups, outputs=("magnetic", "piezo"))
        blend = Voice(f"{first.name}-piezo-blend", pickups=first.pickups, outputs=("blend",))
        voices = (*magnetic, piezo, two, blend)
    _refuse_doubles(voices)
    return voices


def _selector(layout: str | Sequence[str]) -> tuple[Voice, ...]:
    if isinstance(layout, str):
        if layout not in LAYOUTS:
            guess = did_you_mean(layout, LAYOUTS)
            raise InputError(
                tr(
                    'no selector layout is named "{layout}"; {known} is known, or give the names '
                    "of the voices.{guess}",
                    layout=layout,
                    known=listed(LAYOUTS, join="or"),
                    guess=guess,
                )
            )
        return tuple(Voice(name, pickups=pickups) for name, pickups in LAYOUTS[layout].items())
    names = [clean_name(name).strip() for name in layout]
    if not names:
        raise InputError(tr("the selector has no voices; give at least one."))
    for name in names:
        check_file_name(name, "voice")
    return tuple(Voice(name) for name in names)


def _with_splits(voices: Sequence[Voice], splits: Sequence[str]) -> tuple[Voice, ...]:
    wanted = {match_key(split) for split in splits}
    known = {match_key(voice.name) for voice in voices}
    for split in splits:
        if match_key(split) not in known:
            names = [voice.name for voice in voices]
            raise InputError(
                tr(
                    '"{split}" is to be split, but the voices are {voices}.{guess}',
                    split=split,
                    voices=listed(names),
                    guess=did_you_mean(split, names),
                )
            )
    result = []
    for voice in voices:
        result.append(voice)
        if match_key(voice.name) in wanted:
            result.append(Voice(voice.name + _SPLIT, pickups=voice.pickups, split=True))
    return tuple(result)


def _refuse_doubles(voices: Sequence[Voice]) -> None:
    seen = set()
    for voice in voices:
        if match_key(voice.name) in seen:
            raise InputError(
                tr('the voice "{voice}" stands there twice; names must differ.', voice=voice.name)
            )
        seen.add(match_key(voice.name))


#: What a name is one of, after "the".
_KINDS = {
    "instrument": tr_later("instrument"),
    "control": tr_later("control"),
    "stage": tr_later("stage"),
    "voice": tr_later("voice"),
}


def called(kind: str) -> str:
    """Return what a kind of name is called within a sentence."""
    return tr(_KINDS[kind])


#: Two names and what stands between them fit into the 255 bytes that file systems allow.
_LONGEST_BYTES = 120


def check_file_name(name: str, kind: str) -> None:
    """Refuse a name that cannot be the name of a file or folder on every system."""
    bad = sorted({mark for mark in name if mark in '/\\:*?"<>|' or ord(mark) < 32})
    if bad:
        raise InputError(
            tr(
                "the {kind} {name} holds {signs}; its name becomes the name of a file, so leave "
                "such signs out.",
                kind=called(kind),
                name=repr(name),
                signs=" ".join(repr(mark) for mark in bad),
            )
        )
    if len(name.encode("utf-8", "surrogateescape")) > _LONGEST_BYTES:
        raise InputError(
            tr(
                "the {kind} {name} is too long for the name of a file; shorten it.",
                kind=called(kind),
                name=repr(name),
            )
        )
    if not name or name.startswith(".") or name != name.strip(" ") or name.endswith("."):
        raise InputError(
            tr(
                "the {kind} {name} is no name for a file: it must not be empty, begin or end with "
                "a dot or with a space.",
                kind=called(kind),
                name=repr(name),
            )
        )
