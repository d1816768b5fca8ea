"""What became of each voice, in a sentence; what many voices share in one for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from tonecompare.compare.model import Confound
from tonecompare.language import tr, tr_later
from tonecompare.quantities.words import PARTIALS
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.equal_voices import (
    EqualResults,
    VoiceKey,
    equal_results,
)
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.subjects import one_of_hum, subject
from tonecompare.report.words.finding_words.tone_words import parts_of, unchanged_texts
from tonecompare.report.words.finding_words.worked_on import WorkOn, cause_told, names
from tonecompare.report.words.numbers import listed
from tonecompare.report.words.phrases import AUDIBILITIES, NOT_EXPECTED, audibility

#: Parts of one voice's sentence.
_PARTS_SHOWN = 3
#: What a player asks first.
ASKED_FIRST = {
    name: place for place, name in enumerate(("decay_s", "level_dbfs", "centroid_hz", "hum_dbfs"))
}


def by_voice(rows: Iterable[Difference]) -> dict[VoiceKey, list[Difference]]:
    """Return the rows of each comparison, voice and output."""
    groups: dict[VoiceKey, list[Difference]] = {}
    for row in rows:
        groups.setdefault((row.comparison, row.voice, row.output), []).append(row)
    return groups


def voice_findings(
    rows: Iterable[Difference],
    titles: Mapping[tuple[str, str], str],
    work: Mapping[str, Sequence[WorkOn]],
    confounds: Sequence[Confound] = (),
) -> list[Finding]:
    """Return a sentence per voice, and one per comparison for what many voices share.

    What changed comes by size, then what did not, then what was done to it or that no cause is
    known.

    Parameters
    ----------
    rows
        What findings speak of.
    titles
        How voices and outputs are called.
    work
        What was done between the sides of each comparison, and to which voices.
    confounds
        What else was looked for.
    """
    findings = []
    of_voices = {key: claims(group) for key, group in by_voice(rows).items()}
    shared, of_voices = equal_results(of_voices, titles)
    for (comparison, voice, output), (changed, same) in of_voices.items():
        if not changed and not same:
            continue
        title = subject([*changed, *same][0], titles)
        cause = cause_told(work.get(comparison, ()), (voice,), changed, confounds, output=output)
        text = _changes_text(changed, same) if changed else _same_text(same)
        findings.append(
            Finding(
                "change" if changed else "no-change",
                comparison,
                voice,
                f"{title}: {text}.{cause}",
                max((_weight(row) for row in changed), default=0.0),
                (*changed, *same),
                title,
                names(work.get(comparison, ()), voice),
            )
        )
    return [*_shared_findings(shared, work, confounds), *findings]


def claims(group: Iterable[Difference]) -> tuple[list[Difference], list[Difference]]:
    """Return what changed on one voice, by size, and what did not."""
    group = list(group)
    changed = sorted(
        one_of_hum([row for row in group if row.claimed]),
        key=lambda row: (row.verdict != "likely-audible", -_weight(row)),
    )
    same = one_of_hum([row for row in group if row.verdict == "no-change"])
    return changed, same


def _shared_findings(
    shared: Iterable[EqualResults],
    work: Mapping[str, Sequence[WorkOn]],
    confounds: Sequence[Confound],
) -> list[Finding]:
    findings = []
    for one in shared:
        text = _changes_text(one.changed, one.same) if one.changed else _same_text(one.same)
        done = work.get(one.comparison, ())
        cause = cause_told(done, one.voices, one.changed, confounds)
        findings.append(
            Finding(
                "change" if one.changed else "no-change",
                one.comparison,
                "",
                f"{one.title}: {text}.{cause}",
                max((_weight(row) for row in one.changed), default=0.0),
                one.rows,
                one.title,
                any(names(done, voice) for voice in one.voices),
            )
        )
    return findings


def _weight(row: Difference) -> float:
    """Rank a difference: its sure thresholds; a single partial counts half of a whole quantity."""
    return row.surely_thresholds * (0.5 if row.quantity in PARTIALS else 1.0)


def _changes_text(changed: list[Difference], same: list[Difference]) -> str:
    told = sorted(
        parts_of(changed),
        # A single partial speaks for itself only where nothing whole does.
        key=lambda part: (part.lead.quantity in PARTIALS, part.lead.verdict != "likely-audible"),
    )
    shown = told[:_PARTS_SHOWN]
    parts = []
    for said in AUDIBILITIES:
        group = [part.text for part in shown if audibility(part.lead) == said]
        if group:
            parts.append(_with_audibility(group, said))
    if len(told) > len(shown):
        rest = [part.noun for part in told[_PARTS_SHOWN:]]
        between = told[0].lead.side_by_side
        more = (
            tr_later("a measurable difference in {what} too")
            if between
            else tr_later("{what} changed measurably too")
        )
        parts.append(tr(more, what=listed(rest)))
    if same:
        parts.append(listed(unchanged_texts(_tellable(same))[:2]))
    return "; ".join(parts)


def _with_audibility(changes: Sequence[str], said: str) -> str:
    together = ", ".join(changes)
    if not said:
        return together
    if len(changes) == 1:
        return f"{together} – {tr(said)}"
    if len(changes) == 2:
        return tr("{changes} – both {audible}", changes=together, audible=tr(said))
    return tr("{changes} – all {audible}", changes=together, audible=tr(said))


def _same_text(same: list[Difference]) -> str:
    said = listed(unchanged_texts(_tellable(same))[:_PARTS_SHOWN])
    return f"{said} – {tr(NOT_EXPECTED)}"


def _tellable(rows: list[Difference]) -> list[Difference]:
    """Order by what a player asks first: decay, level, centroid, hum, then the rest."""
    return sorted(rows, key=lambda row: ASKED_FIRST.get(row.quantity, len(ASKED_FIRST)))
