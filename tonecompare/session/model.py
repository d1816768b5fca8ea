"""What was recorded: the session, its instruments, stages, voices and comparisons.

Plain frozen data, no file access. :mod:`tonecompare.session.toml.read` reads ``session.toml`` into
these, :mod:`tonecompare.session.folders` finds the recordings beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from tonecompare.language import ENGLISH

#: Open strings of a guitar in standard tuning, lowest first (string 6 … string 1).
STANDARD_TUNING = ("E2", "A2", "D3", "G3", "B3", "E4")
#: What follows the name of a voice when a stage records it a second time, at its end
#: ("bridge-again"): what differs between the two is drift, not work.
AGAIN = "-again"
#: What follows the name of a voice in files that hold its quiet with hands on and off the strings.
HANDS_ON, HANDS_OFF = "-hands-on", "-hands-off"
#: What a channel can carry.
OUTPUTS = ("magnetic", "piezo", "blend")
#: Voices of these names are a reference: an acoustic guitar through a microphone.
REFERENCE_VOICES = ("acoustic", "reference")


@dataclass(frozen=True)
class WorkItem:
    """One piece of work that led to a stage, with what it cost."""

    what: str
    parts_cost: float = 0.0
    hours: float = 0.0


@dataclass(frozen=True)
class Conditions:
    """How a stage was recorded; two stages compare best when these are equal. None = not given."""

    name: str
    interface_gain_db: float | None = None
    input_impedance_ohm: float | None = None
    cable_length_m: float | None = None
    cable_pf_per_m: float | None = None
    full_scale_volts: float | None = None
    strings_gauge: str | None = None
    strings_hours: float | None = None
    pick: str | None = None
    room: str | None = None


@dataclass(frozen=True)
class Instrument:
    """One physical guitar."""

    name: str
    scale_length_mm: float | None = None
    #: Note names of the open strings, lowest first; string number 1 is the last (thinnest).
    tuning: tuple[str, ...] = STANDARD_TUNING
    #: What it is one of; instruments that share a model are sisters. "" when nobody said.
    model: str = ""


@dataclass(frozen=True)
class Stage:
    """An instrument in one state of work; its recordings stand in the folder of its name.

    ``instrument`` is "" when nobody said which one it is (bare folders).
    """

    name: str
    instrument: str
    folder: Path
    from_stage: str | None = None
    date: date | None = None
    conditions: str | None = None
    work: tuple[WorkItem, ...] = ()
    #: The owner's own rating, 0 to 10, by voice name.
    ratings: Mapping[str, float] = field(default_factory=dict)
    #: The voice that is to be recorded first and once more at the end (name + :data:`AGAIN`); ""
    #: when nobody planned it.
    again: str = ""


#: Where magnetic pickups sit, and what else the name of a voice that joins them holds.
_PLACES = frozenset({"bridge", "middle", "neck"})
_JOINING = frozenset({"and", "in", "series", "parallel", "out", "of", "phase", "split", "both"})
#: A pickup with one of these in its name is no magnetic one.
_PIEZOS = ("piezo", "saddle", "transducer")


@dataclass(frozen=True)
class Voice:
    """One sound the player can select."""

    name: str
    pickups: tuple[str, ...] = ()
    split: bool = False
    #: What each channel carries, in channel order; one entry for a mono file.
    outputs: tuple[str, ...] = ("magnetic",)
    #: Distance of the (single) magnetic pickup's centre from the bridge, if known.
    pickup_distance_mm: float | None = None
    #: Patterns of the names its files go by, beside its own.
    files: tuple[str, ...] = ()

    @property
    def magnetic_pickups(self) -> tuple[str, ...]:
        """Names of the magnetic pickups that sound: ``pickups`` without a piezo.

        Where nobody told them, those that the voice's own name joins, as the selectors of
        :mod:`tonecompare.session.plan` name theirs; empty when that says nothing either.

        Examples
        --------
        >>> Voice("both", pickups=("bridge", "saddle")).magnetic_pickups
        ('bridge',)
        >>> Voice("bridge-neck-series").magnetic_pickups
        ('bridge', 'neck')
        >>> Voice("heel-of-the-neck").magnetic_pickups
        ()
        """
        told = tuple(
            name for name in self.pickups if not any(word in name.casefold() for word in _PIEZOS)
        )
        if self.pickups:
            return told
        words = re.findall(r"[^\W\d_]+", self.name.casefold())
        if not set(words) <= _PLACES | _JOINING:
            return ()
        return tuple(dict.fromkeys(word for word in words if word in _PLACES))


@dataclass(frozen=True)
class ComparedSide:
    """One side of a comparison: a stage with all its voices, or one voice of it."""

    stage: str
    voice: str | None = None

    @classmethod
    def named(cls, name: str) -> ComparedSide:
        """Return the side that a name means: a stage, or ``stage/voice``.

        Examples
        --------
        >>> ComparedSide.named("heron-rewound/bridge-split")
        ComparedSide(stage='heron-rewound', voice='bridge-split')
        """
        stage, _, voice = name.partition("/")
        return cls(stage, voice or None)

    @property
    def name(self) -> str:
        """How ``session.toml`` and the tables name it."""
        return self.stage if self.voice is None else f"{self.stage}/{self.voice}"


@dataclass(frozen=True)
class ComparisonSpec:
    """One side against another, optionally with a control instrument's two stages.

    ``before`` and ``after`` each name a :class:`ComparedSide`; both have a voice or neither.
    """

    before: str
    after: str
    control_before: str | None = None
    control_after: str | None = None

    @property
    def name(self) -> str:
        """The comparison's name in tables: ``before → after`` written with plain words."""
        return f"{self.before} to {self.after}"

    @property
    def sides(self) -> tuple[ComparedSide, ComparedSide]:
        """What is compared with what, before first."""
        return ComparedSide.named(self.before), ComparedSide.named(self.after)

    @property
    def stages(self) -> tuple[str, str]:
        """The stages of the two sides."""
        return self.sides[0].stage, self.sides[1].stage

    @property
    def voice(self) -> str | None:
        """The voice that differences are filed under: the after side's; None for every voice."""
        return self.sides[1].voice

    @property
    def between_voices(self) -> bool:
        """Whether two different voices are compared, so that nothing between them is work."""
        return self.sides[0].voice != self.sides[1].voice

    @property
    def one_sitting(self) -> bool:
        """Whether both sides are voices of one stage: one set of strings, gain, cable, day."""
        return self.between_voices and self.stages[0] == self.stages[1]


@dataclass(frozen=True)
class Recording:
    """One voice at one stage: the files that carry it, in order."""

    stage: str
    voice: str
    files: tuple[Path, ...]


@dataclass(frozen=True)
class LeftOut:
    """A file or recording that could not be used, and why.

    ``reason`` ends as a sentence does. ``of_file`` says that it begins with its verb, the file
    being its subject ("Is empty (0 bytes). …").
    """

    file: str
    reason: str
    of_file: bool = False

    @property
    def names_its_file(self) -> bool:
        """Whether the reason itself says which file it is about."""
        named = re.search(rf"(?<![\w./-]){re.escape(self.file)}(?!\w)", self.reason)
        return named is not None and not self.of_file


@dataclass(frozen=True)
class Worth:
    """What the owner counts the work in."""

    currency: str = ""
    hourly_rate: float | None = None


#: What may be played in a recording, from the most exact to the least; how often a chord or riff.
PLUCKS, CHORDS, RIFF = "plucks", "chords", "riff"
PLAYED = (PLUCKS, CHORDS, RIFF)
TIMES = 4


@dataclass(frozen=True)
class PlannedPlucks:
    """What every recording is to hold: each of these notes so many times."""

    notes: tuple[str, ...]
    repeats: int
    #: What is played: single notes, chords, a riff, or several of them.
    play: tuple[str, ...] = (PLUCKS,)


@dataclass(frozen=True)
class Session:
    """Everything one report is made from.

    ``root`` is the folder that file names in tables are relative to.
    """

    title: str
    root: Path
    stages: Mapping[str, Stage]
    recordings: tuple[Recording, ...]
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    conditions: Mapping[str, Conditions] = field(default_factory=dict)
    voices: Mapping[str, Voice] = field(default_factory=dict)
    comparisons: tuple[ComparisonSpec, ...] = ()
    worth: Worth = field(default_factory=Worth)
    #: None means: find it in each recording.
    mains_hz: float | None = None
    a4_hz: float = 440.0
    #: Overrides of the hearing thresholds by quantity name.
    hearing_thresholds: Mapping[str, float] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()
    #: Sentences the reader should see that are no fault (how comparisons were chosen, voices that
    #: only one stage of a comparison has).
    remarks: tuple[str, ...] = ()
    #: Notes and repeats as planned; None when nobody planned them.
    planned: PlannedPlucks | None = None
    #: What its reports are written in (ISO 639-1).
    language: str = ENGLISH
    #: Notes that a report plays; () for the lowest and the highest that both sides have.
    listen: tuple[str, ...] = ()

    def voice(self, name: str) -> Voice:
        """Return what is known of a voice; a bare :class:`Voice` when session.toml names none.

        What is known of "bridge" holds for "bridge-again" and "bridge-hands-on" too.
        """
        known = self.told_voice(name)
        return Voice(name) if known is None else replace(known, name=name)

    def told_voice(self, name: str) -> Voice | None:
        """Return what session.toml says of a voice or of the one it repeats, None when nothing."""
        plain = name
        for ending in (AGAIN, HANDS_ON, HANDS_OFF):
            plain = plain.removesuffix(ending)
        return self.voices.get(name, self.voices.get(plain))

    def instrument_of(self, stage: str) -> Instrument:
        """Return the instrument of a stage; a bare :class:`Instrument` when none is described."""
        name = self.stages[stage].instrument
        return self.instruments.get(name, Instrument(name))

    def sisters(self, one: str, other: str) -> bool:
        """Whether two stages are of two instruments that share a model."""
        first, second = self.instrument_of(one), self.instrument_of(other)
        return first.name != second.name and bool(first.model) and first.model == second.model

    def conditions_of(self, stage: str) -> Conditions | None:
        """Return the conditions of a stage, None when it names none."""
        return self.conditions.get(self.stages[stage].conditions or "")

    def recordings_of(self, stage: str) -> tuple[Recording, ...]:
        """Return the recordings of a stage, in the order of their voices' names."""
        return tuple(r for r in self.recordings if r.stage == stage)

    def voices_of(self, stage: str) -> tuple[str, ...]:
        """Return the names of the voices recorded at a stage."""
        return tuple(r.voice for r in self.recordings if r.stage == stage)

    def common_voices(self, before: str, after: str) -> tuple[str, ...]:
        """Return the names of the voices recorded at both stages, in the order of the first."""
        there = set(self.voices_of(after))
        return tuple(v for v in self.voices_of(before) if v in there)

    def file_name(self, path: Path) -> str:
        """Return how tables name a file: relative to ``root``, with forward slashes."""
        try:
            return path.relative_to(self.root).as_posix()
        except ValueError:
            return path.as_posix()
