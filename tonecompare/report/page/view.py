"""What the page shows, as plain frozen data with finished words; templates only lay it out."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.report.charts.draw_all import Picture
from tonecompare.report.files.clips import Clips
from tonecompare.report.files.players import Player
from tonecompare.report.page.bench_section import PickupView, SignView
from tonecompare.report.page.blend_section import BlendSection
from tonecompare.report.page.guitars.guitars_section import GuitarsSection
from tonecompare.report.page.guitars.spread_section import SpreadSection
from tonecompare.report.page.guitars.worth_section import WorthSection
from tonecompare.report.page.others_section import OthersView
from tonecompare.report.page.quiet_table import QuietRow
from tonecompare.report.page.response_section import EqualiserView
from tonecompare.report.page.sheet.sheet_view import SheetView
from tonecompare.report.page.verdict_table import DetailRow, VerdictTable
from tonecompare.report.page.voices import VoicesSection
from tonecompare.report.words.finding_words.finding import Finding


@dataclass(frozen=True)
class VoiceView:
    """The section of one voice in one comparison."""

    anchor: str
    title: str
    pictures: tuple[Picture, ...]
    responses: tuple[Picture, ...]
    details: tuple[DetailRow, ...]
    by_note: VerdictTable | None
    equalisers: tuple[EqualiserView, ...]
    clips: Clips
    #: What plays the clips from inside the page, None where they lie beside it.
    player: Player | None
    #: Says why they are not inside, or where they lie.
    silent: str


@dataclass(frozen=True)
class ConfoundView:
    """A kind of confound that was tested for, where, and one sentence per voice (or for all)."""

    kind: str
    where: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ComparisonView:
    """One comparison with its table, charts and voices."""

    anchor: str
    name: str
    before: str
    after: str
    #: Whether its sides are two voices, and what to call it.
    between_voices: bool
    #: Whether its sides are two guitars of one model.
    sisters: bool
    title: str
    work: tuple[str, ...]
    notes: tuple[str, ...]
    table: VerdictTable
    overview: Picture | None
    confounds: tuple[ConfoundView, ...]
    #: Tested for and not found.
    cleared: tuple[ConfoundView, ...]
    drift: VerdictTable | None
    voices: tuple[VoiceView, ...]


@dataclass(frozen=True)
class ThresholdView:
    """One hearing threshold with its source."""

    label: str
    limit: str
    source: str


@dataclass(frozen=True)
class InputView:
    """One input file."""

    file: str
    stage: str
    voice: str
    form: str
    plucks: int
    sha256: str


@dataclass(frozen=True)
class ProblemView:
    """Something about files, with what to do in the sentence; ``more`` files are not listed."""

    files: tuple[str, ...]
    sentence: str
    more: int = 0


@dataclass(frozen=True)
class PageView:
    """The whole page."""

    title: str
    findings: tuple[Finding, ...]
    comparisons: tuple[ComparisonView, ...]
    quiet: tuple[QuietRow, ...]
    quiet_headings: tuple[str, ...]
    spreads: tuple[SpreadSection, ...]
    signs: tuple[SignView, ...]
    pickups: tuple[PickupView, ...]
    blend: BlendSection | None
    worth: WorthSection | None
    left_out: tuple[ProblemView, ...]
    problems: tuple[ProblemView, ...]
    thresholds: tuple[ThresholdView, ...]
    inputs: tuple[InputView, ...]
    settings: tuple[tuple[str, str], ...]
    versions: tuple[tuple[str, str], ...]
    #: Sounds inside the page: key and FLAC in base64.
    sounds: tuple[tuple[str, str], ...] = ()
    #: Guitars, or stages of one, side by side.
    guitars: tuple[GuitarsSection, ...] = ()
    #: The voices of each stage side by side, None where no stage has two.
    voices: VoicesSection | None = None
    sheet: SheetView | None = None
    #: What a page of many leaves to the tables, None where it shows everything.
    others: OthersView | None = None
