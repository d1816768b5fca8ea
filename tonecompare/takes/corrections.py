"""Corrections by hand: what ``takes.csv`` says of the plucks of a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from tonecompare.errors import SessionError
from tonecompare.language import tr_later
from tonecompare.session.overrides import OVERRIDES_FILE, Override
from tonecompare.takes.judge_plucks import in_order
from tonecompare.takes.model import Audio, Pluck
from tonecompare.takes.plucks.note_of_pluck import note_hz, pitch_of_note
from tonecompare.units import ratio_to_cents

#: A pitch this far from the note named by hand is that of something else.
OTHER_PITCH_CENTS = 60.0
#: What has to be left of a pluck after a moved onset.
SHORTEST_LEFT_S = 0.1
#: Flags about the pitch as it was found, which a note given by hand settles.
_SETTLED = {"no-pitch", "ambiguous-pitch"}


def corrected(
    plucks: Sequence[Pluck],
    file: str,
    overrides: Mapping[tuple[str, int], Override],
    *,
    audio: Audio,
    a4_hz: float = 440.0,
) -> tuple[Pluck, ...]:
    """Plucks with what takes.csv says of them; those it leaves out are gone.

    Where the note given by hand is not the one that was found, the pitch is sought again beside
    that note, so that pitch and partials are those of the string that was meant.

    Parameters
    ----------
    plucks
        As found, in order of time.
    file
        The file as takes.csv names it.
    overrides
        By file and pluck number.
    audio
        The file's samples.
    a4_hz
        Concert pitch.

    Raises
    ------
    SessionError
        When an onset given by hand does not lie inside its pluck.
    """
    out = []
    for index, pluck in enumerate(plucks):
        override = overrides.get((file, pluck.number))
        if override is None:
            out.append(pluck)
        elif override.use:
            after_s = plucks[index - 1].onset_s if index else 0.0
            moved = _moved(pluck, override, after_s=after_s)
            named = _renamed(moved, override, audio=audio, a4_hz=a4_hz)
            string = override.string if override.string is not None else pluck.string
            flags = {*named.flags, "overridden"} if _changes(override) else set(named.flags)
            out.append(replace(named, string=string, flags=in_order(flags)))
    return tuple(out)


def _changes(override: Override) -> bool:
    """Whether a row says anything else than was found; many only list a doubt."""
    return override.onset_s is not None or bool(override.note) or override.string is not None


def _moved(pluck: Pluck, override: Override, *, after_s: float) -> Pluck:
    """Pluck with the onset given by hand; the channels keep their distance."""
    if override.onset_s is None:
        return pluck
    last_s = pluck.end_s - SHORTEST_LEFT_S
    if not after_s <= override.onset_s <= last_s:
        raise SessionError(
            tr_later(
                "onset_s is {onset_s:.3f}, but this pluck was found at {found_s:.3f} s and lasts "
                "to {end_s:.3f} s; {first_s:.3f} to {last_s:.3f} is allowed.",
                onset_s=float(override.onset_s),
                found_s=float(pluck.onset_s),
                end_s=float(pluck.end_s),
                first_s=float(after_s),
                last_s=float(last_s),
            ),
            key=tr_later(
                "{table}: pluck {pluck} of {file}",
                table=OVERRIDES_FILE,
                pluck=pluck.number,
                file=override.file,
            ),
        )
    shift_s = override.onset_s - pluck.onset_s
    onsets = tuple(max(0.0, t + shift_s) for t in pluck.channel_onset_s)
    return replace(pluck, channel_onset_s=onsets, channel_onset_sd_s=())


def _renamed(pluck: Pluck, override: Override, *, audio: Audio, a4_hz: float) -> Pluck:
    """Pluck with the note given by hand, and the pitch near it."""
    if not override.note:
        return pluck
    near_hz = note_hz(override.note, a4_hz=a4_hz)
    f0_hz = pluck.f0_hz
    if f0_hz is None or abs(ratio_to_cents(f0_hz / near_hz)) > OTHER_PITCH_CENTS:
        f0_hz = pitch_of_note(
            audio.samples,
            rate_hz=audio.rate_hz,
            onset_s=pluck.onset_s,
            end_s=pluck.end_s,
            near_hz=near_hz,
        )
    flags = set(pluck.flags) - _SETTLED
    return replace(pluck, f0_hz=f0_hz, note=override.note, flags=in_order(flags))
