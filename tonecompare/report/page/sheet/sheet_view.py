"""The sheet as data for the page: words, lead picture, and the sound to hear first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.worth.work_steps import Step
from tonecompare.report.files.clips import Clips
from tonecompare.report.files.players import Player
from tonecompare.report.page.guitars.worth_section import WorthSection
from tonecompare.report.page.sheet.lead_picture import NARROW, WIDE, LeadPicture, lead_picture
from tonecompare.report.words.finding_words.compared_sides import VoiceOutput
from tonecompare.report.words.sheet_words.sheet_text import SheetText, sheet_text
from tonecompare.session.model import Session


@dataclass(frozen=True)
class Heard:
    """The sounds of one voice, as the page plays them: ``silent`` says why they are not inside."""

    title: str
    clips: Clips
    player: Player | None
    silent: str


@dataclass(frozen=True)
class SheetView:
    """The first screen and the page that is handed over."""

    text: SheetText
    #: The lead picture, wide and narrow; () where nothing can be drawn.
    pictures: tuple[LeadPicture, ...]
    #: The voice to hear first; None where no voice has sounds.
    heard: Heard | None
    #: What that voice is called here.
    heard_name: str


def sheet_view(
    session: Session,
    comparisons: Comparisons,
    *,
    worth: Sequence[Step],
    costs: WorthSection | None,
    voices: Mapping[tuple[str, VoiceOutput], Heard],
) -> SheetView:
    """Return the sheet of a report.

    Parameters
    ----------
    session, comparisons, worth
        What the report is about.
    costs
        The section that says what each step cost.
    voices
        The sounds of all voices by comparison and voice, from which the one to hear is taken.
    """
    text = sheet_text(
        session,
        comparisons,
        worth=worth,
        costs=[(step.stage, step.cost) for step in costs.steps] if costs else (),
    )
    sounding = [
        (one.name, view)
        for one in text.voices
        if (view := voices.get((one.comparison, one.key))) is not None and view.clips.clips
    ]
    name, view = sounding[0] if sounding else ("", None)
    drawn = (lead_picture(text.voices, frame) for frame in (WIDE, NARROW))
    return SheetView(text, tuple(one for one in drawn if one is not None), view, name)
