"""What a plan is made from and what it plans: options, stages, notes. Frozen data, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tonecompare.session.model import STANDARD_TUNING, Voice


@dataclass(frozen=True)
class PlanOptions:
    """What a session is to hold.

    Parameters
    ----------
    title
        Title of the session; the folder's name when empty.
    instruments
        The instruments to be worked on.
    controls
        Instruments that stay as they are and are recorded in every session.
    stages
        States of work in order, the first before any work. Each worked-on instrument gets a
        folder "instrument-stage", each control a folder "instrument-with-stage".
    layout, splits, outputs
        As in :func:`tonecompare.session.plan.selectors.planned_voices`.
    tuning
        Open strings, lowest first.
    frets
        Frets to pluck on every string; 0 is the open string.
    repeats
        Plucks of each note.
    seed
        Settles the order of the voices; the same seed gives the same order.
    mains_hz
        50, 60, or None: to be found in the recordings.
    measured_spreads
        Standard deviation from pluck to pluck by quantity, from existing takes.
    smallest_changes
        The smallest change that matters, by quantity.
    """

    title: str = ""
    instruments: tuple[str, ...] = ("guitar",)
    controls: tuple[str, ...] = ()
    stages: tuple[str, ...] = ("before", "after")
    layout: str | tuple[str, ...] = "three-way"
    splits: tuple[str, ...] = ()
    outputs: str = "magnetic"
    tuning: tuple[str, ...] = STANDARD_TUNING
    frets: tuple[int, ...] = (0,)
    repeats: int = 5
    seed: int = 1
    mains_hz: int | None = None
    measured_spreads: Mapping[str, float] = field(default_factory=dict)
    smallest_changes: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class PlannedStage:
    """One stage to record: its folder, and the voices in the order to record them."""

    folder: str
    instrument: str
    #: Position of its session among the stages, from 1.
    session: int
    from_folder: str | None
    #: The first voice comes once more at the end, under a name of its own.
    order: tuple[Voice, ...]
    control: bool = False


@dataclass(frozen=True)
class PlannedNote:
    """A note to pluck: string number (1 = thinnest), fret, name."""

    string: int
    fret: int
    note: str


@dataclass(frozen=True)
class Plan:
    """Everything the take sheet and ``session.toml`` are written from."""

    title: str
    options: PlanOptions
    voices: tuple[Voice, ...]
    stages: tuple[PlannedStage, ...]
    notes: tuple[PlannedNote, ...]

    @property
    def plucks_per_voice(self) -> int:
        """Plucks of one recording."""
        return len(self.notes) * self.options.repeats
