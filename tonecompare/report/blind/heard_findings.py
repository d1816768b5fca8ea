"""What ears said, beside what the numbers say: only here does a report use the word heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tonecompare.language import tr
from tonecompare.report.blind.results import Scored
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.listening_words.blind_words import heard_text
from tonecompare.report.words.names import voice_title

#: Findings that speak of one voice of one comparison.
_OF_VOICE = ("change", "no-change", "confounded", "undecided")


def with_heard(findings: Sequence[Finding], scores: Sequence[Scored]) -> tuple[Finding, ...]:
    """Return the findings with what blind tests of their comparison and voice showed.

    A test of a voice that no finding is about gets a finding of its own, at the end.
    """
    told = list(findings)
    for one in scores:
        said = heard_text(one.pooled)
        place = next(
            (
                number
                for number, finding in enumerate(told)
                if finding.kind in _OF_VOICE
                and (finding.comparison, finding.voice) == (one.comparison, one.voice)
            ),
            None,
        )
        if place is not None:
            heard = tr("Note {note}, played equally loud: {said}", note=one.note, said=said)
            text = f"{told[place].text} {heard}"
            told[place] = replace(told[place], text=text)
            continue
        title = voice_title(one.voice)
        told.append(
            Finding(
                "note",
                one.comparison,
                one.voice,
                tr(
                    "{voice}, note {note}, played equally loud: {said}",
                    voice=title,
                    note=one.note,
                    said=said,
                ),
                title=title,
                where=one.comparison,
            )
        )
    return tuple(told)
