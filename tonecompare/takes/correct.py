"""Corrections by hand: what ``takes.csv`` says of the plucks of a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from tonecompare.session.overrides import Override
from tonecompare.takes.judge import in_order
from tonecompare.takes.model import Pluck


def corrected(
    plucks: Sequence[Pluck], file: str, overrides: Mapping[tuple[str, int], Override]
) -> tuple[Pluck, ...]:
    """Plucks with what takes.csv says of them; those it leaves out are gone."""
    out = []
    for pluck in plucks:
        override = overrides.get((file, pluck.number))
        if override is None:
            out.append(pluck)
        elif override.use:
            onsets = pluck.channel_onset_s
            if override.onset_s is not None:
                onsets = tuple(t + override.onset_s - pluck.onset_s for t in onsets)
            out.append(
                replace(
                    pluck,
                    channel_onset_s=onsets,
                    note=override.note or pluck.note,
                    string=override.string if override.string is not None else pluck.string,
                    flags=in_order({*pluck.flags, "overridden"}),
                )
            )
    return tuple(out)
