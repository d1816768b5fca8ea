"""What a plan is made from and what it plans: options, stages, notes. Frozen data, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from tonecompare.session.model import PLUCKS, STANDARD_TUNING, Voice, WorkItem, Worth


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
    strings
        Numbers of the strings to pluck, 1 the thinnest; all when empty.
    dates
        The day a stage was or will be recorded, by stage.
    scale_lengths_mm
        Nut to bridge, by instrument.
    gains_db
        Gain of the interface, by stage.
    work
        What leads to a stage, with cost and hours, by stage.
    worth
        What work is counted in.
    play
        What is played: "plucks", "chords", "riff", or several of them.
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
    strings: tuple[int, ...] = ()
    dates: Mapping[str, date] = field(default_factory=dict)
    scale_lengths_mm: Mapping[str, float] = field(default_factory=dict)
    gains_db: Mapping[str, float] = field(default_factory=dict)
    work: Mapping[str, WorkItem] = field(default_factory=dict)
    worth: Worth = field(default_factory=Worth)
    play: tuple[str, ...] = (PLUCKS,)


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
        return len(self.notes) * self.options.repeats if PLUCKS in self.options.play else 0

    def stage_of(self, planned: PlannedStage) -> str:
        """Return the state of work that a planned stage is in, as the options name it."""
        return self.options.stages[planned.session - 1]
