"""The findings in plain words, made from differences, confounds and notes.

Each sentence is assembled from the numbers it speaks of (:mod:`tonecompare.report.words.phrases`);
nothing is free text. Voices are ranked by the hearing thresholds their largest difference has at
least (the near end of its interval), so that size and certainty count at once. What is
confounded, undecided or missing is said in the same list: silence is not a finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from tonecompare.compare.cause_facts import LoadFacts
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound, Note
from tonecompare.compare.notes import ONLY_AT_ONE, PLAYED, SISTERS
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.quantities.words import HEADLINE, PARTIALS
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.cause_words.taken_out_text import taken_out_text
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.exchanged_outputs import exchanged_finding, exchanged_voices
from tonecompare.report.words.finding_words.equal_voices import MANY
from tonecompare.report.words.finding_words.explanations import (
    explanations,
    hum_left_open,
    strength_left_open,
)
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.subjects import confounded_lead, places, subject
from tonecompare.report.words.finding_words.tone_words import bands_worth_telling, parts_of
from tonecompare.report.words.finding_words.undecided import undecided
from tonecompare.report.words.finding_words.voice_sentences import by_voice, voice_findings
from tonecompare.report.words.finding_words.worked_on import WorkOn
from tonecompare.report.words.names import comparison_title, voice_title
from tonecompare.report.words.phrases import sentence, without
from tonecompare.report.words.reason_words import told_rows
from tonecompare.report.words.standing_texts import NEVER_BY_CHORD, NEVER_BY_RIFF
from tonecompare.report.words.voice_words import sound_titles, stage_sentences

#: Findings of a report of one comparison; each further one may add some, up to the most of all.
MOST, MORE_EACH, MOST_OF_ALL = 6, 2, 12
#: Sentences on all voices: the loudest, the farthest apart, the nearest.
_OVER_ALL = 3
_CONFOUNDED_SHOWN = 3
#: Voices that the sentence on the rest names.
_MORE_NAMED = 12


def find(
    comparisons: Comparisons,
    *,
    missing: Sequence[str] = (),
    work: Mapping[str, Sequence[WorkOn]] | None = None,
) -> tuple[Finding, ...]:
    """Return the findings of a report, the most telling first.

    Six at most, two more for each further comparison of stages, twelve in all.

    Parameters
    ----------
    comparisons
        What :func:`tonecompare.compare.compare_session` returned.
    missing
        Sentences about what the report lacks (recordings left out), used last.
    work
        What was done between the sides of each comparison
        (:func:`tonecompare.report.words.finding_words.worked_on.work_on_voices`): the voices it
        names come first.
    """
    every = told_rows(comparisons)
    named = places(every)
    return tuple(
        replace(
            one, where=named.get(one.comparison, (one.comparison,) * 2)[one.kind != "taken-out"]
        )
        for one in _findings(comparisons, _told(every), missing, work or {})
    )


def _findings(
    comparisons: Comparisons,
    rows: list[Difference],
    missing: Sequence[str],
    work: Mapping[str, Sequence[WorkOn]],
) -> tuple[Finding, ...]:
    if not rows:
        return (_nothing(comparisons), *_notes(comparisons, missing))[:MOST]
    titles = _titles(rows)
    confounded = _confounded(rows, comparisons.confounds, titles)
    open_ones = undecided(rows, titles)
    voices = sorted(voice_findings(rows, titles, work, comparisons.confounds), key=_first)
    notes = _notes(comparisons, missing)
    taken = _taken_out(rows, comparisons.confounds, titles)
    most = _most(rows)
    # What became of the sound comes before a second remark on what else moved.
    over_all = _voices_over_all(comparisons, rows)
    always = len(over_all) + len(taken[:1]) + len(confounded[:1]) + len(open_ones) + bool(notes)
    always += bool(_played(comparisons)) and len(notes) > 1
    shown, dropped = _fit(voices, max(most - always, 1))
    free = max(most - always - len(shown), 0)
    taken, free = taken[: 1 + free], free - len(taken[1 : 1 + free])
    confounded = confounded[: 1 + free]
    changes = [finding for finding in shown if finding.kind == "change"]
    others = [finding for finding in shown if finding.kind != "change"]
    if not (voices or confounded or open_ones):
        return (_nothing(comparisons), *notes)[:most]
    several = len({row.comparison for row in rows}) > 1
    told = [
        *over_all,
        *taken,
        *changes,
        *_more(dropped, several=several),
        *confounded,
        *others,
        *open_ones,
    ]
    return (*told, *notes[: max(most - len(told), 0)])[:most]


def _most(rows: Iterable[Difference]) -> int:
    """Return how many findings there may be: more for several guitars or steps, not for voices."""
    compared = {row.comparison for row in rows if not row.between_voices}
    return min(MOST + MORE_EACH * max(len(compared) - 1, 0), MOST_OF_ALL)


def _voices_over_all(comparisons: Comparisons, rows: Iterable[Difference]) -> list[Finding]:
    """Say of a guitar whose voices stand side by side which is loudest, and which are far apart."""
    if len(comparisons.voices) != 1 or not all(row.between_voices for row in rows):
        return []
    (voices,) = comparisons.voices
    if len(voices.sounds) < MANY:
        return []
    told = stage_sentences(voices, sound_titles(voices))
    return [Finding("voices", "", "", " ".join(told[:_OVER_ALL]))]


def _first(finding: Finding) -> tuple[bool, float]:
    """Order findings: voices that the work names, then by size."""
    return not finding.named, -finding.score


def _told(rows: Iterable[Difference]) -> list[Difference]:
    """Keep what findings speak of: headlines, bands worth telling, each voice's surest partial."""
    rows, kept = list(rows), list[Difference]()
    surest: dict[tuple[str, str, str], Difference] = {}
    for row in rows:
        if row.quantity in HEADLINE:
            kept.append(row)
        elif row.quantity in PARTIALS and row.verdict == "likely-audible" and row.matters:
            key = (row.comparison, row.voice, row.output)
            if key not in surest or row.surely_thresholds > surest[key].surely_thresholds:
                surest[key] = row
    for of_voice in by_voice(rows).values():
        kept += bands_worth_telling(of_voice)
    return [*kept, *surest.values()]


def _titles(rows: Iterable[Difference]) -> dict[tuple[str, str], str]:
    """Title of each (voice, output); the output is named where a voice has several."""
    outputs: dict[str, set[str]] = {}
    for row in rows:
        outputs.setdefault(row.voice, set()).add(row.output)
    return {
        (voice, output): voice_title(voice, output=output, several_outputs=len(found) > 1)
        for voice, found in outputs.items()
        for output in found
    }


def _taken_out(
    rows: Iterable[Difference], confounds: Iterable[Confound], titles: dict[tuple[str, str], str]
) -> list[Finding]:
    """One finding per comparison: what else moved, whose share is out of all that follows."""
    taken: dict[tuple[str, str, str], set[str]] = {}
    for row in rows:
        key = (row.comparison, row.voice, row.output)
        taken.setdefault(key, set()).update(row.adjusted_for)
    told: dict[str, list[Confound]] = {}
    for one in confounds:
        kinds = [k for key, k in taken.items() if one.found and one.concerns(*key)]
        if any(one.kind in some for some in kinds):
            told.setdefault(one.comparison, []).append(one)
    return [
        Finding("taken-out", comparison, "", taken_out_text(group, titles))
        for comparison, group in told.items()
    ]


def _confounded(
    rows: Iterable[Difference], confounds: Iterable[Confound], titles: dict[tuple[str, str], str]
) -> list[Finding]:
    """One finding per comparison: which differences the work need not explain, and what does."""
    findings = []
    by_comparison: dict[str, list[Difference]] = {}
    for row in rows:
        if row.verdict == "confounded":
            by_comparison.setdefault(row.comparison, []).append(row)
    for comparison, group in by_comparison.items():
        group.sort(key=lambda row: -abs(row.in_thresholds or 0.0))
        told = [
            f"{subject(part.lead, titles)}: {part.text}{without(part.lead)}"
            for of_voice in by_voice(group).values()
            for part in parts_of(of_voice)
        ]
        shown = told[:_CONFOUNDED_SHOWN]
        rest = len(told) - len(shown)
        listed = "; ".join(shown)
        if rest:
            listed = tr_n(
                "{differences} and {n} more difference in the table",
                "{differences} and {n} more differences in the table",
                rest,
                differences=listed,
            )
        why = explanations(comparison, group, confounds)
        findings.append(
            Finding(
                "confounded",
                comparison,
                "",
                f"{confounded_lead(group)} {listed}. {why}".strip(),
                max(row.surely_thresholds for row in group),
                tuple(group),
            )
        )
    left_open = (hum_left_open(rows, confounds), strength_left_open(confounds))
    more = [Finding("confounded", name, "", text) for of in left_open for name, text in of.items()]
    return sorted([*findings, *more], key=lambda finding: -finding.score)


def _fit(findings: list[Finding], room: int) -> tuple[list[Finding], list[Finding]]:
    """Choose the best ``room`` findings, giving every comparison one before any gets a second."""
    if len(findings) <= room:
        return findings, []
    if any(finding.kind == "change" for finding in findings[room:]) and room > 1:
        room -= 1  # the sentence that names the rest takes a place
    best: list[Finding] = []
    for finding in findings:
        if finding.comparison not in {kept.comparison for kept in best}:
            best.append(finding)
    for finding in findings:
        if finding not in best:
            best.append(finding)
    kept = sorted(best[:room], key=_first)
    return kept, best[room:]


def _more(dropped: list[Finding], *, several: bool) -> list[Finding]:
    changed = [finding for finding in dropped if finding.kind == "change"]
    if not changed:
        return []
    between = all(row.side_by_side for finding in changed for row in finding.rows)
    lead = (
        tr_later("More that differs measurably: {what} (see the table).")
        if between
        else tr_later("More voices changed measurably: {what} (see the table).")
    )
    told = dict.fromkeys(
        f"{finding.title}{_of_comparison(finding) if several else ''}{_at_most(finding)}"
        for finding in changed
    )
    named = list(told)[:_MORE_NAMED]
    if len(told) > len(named):
        named.append(tr("and {n} more", n=len(told) - len(named)))
    return [
        Finding(
            "more",
            "",
            "",
            tr(lead, what="; ".join(named)),
            max(finding.score for finding in changed),
        )
    ]


def _of_comparison(finding: Finding) -> str:
    """Return which comparison a finding is of, where its title does not say."""
    row = finding.rows[0]
    return "" if row.between_voices else f" ({comparison_title(row.before, row.after)})"


def _at_most(finding: Finding) -> str:
    """Return the largest difference likely audible of a finding that is not told at length."""
    heard = [row for row in finding.rows if row.verdict == "likely-audible"]
    if not heard:
        return ""
    heard.sort(key=lambda row: (row.quantity in PARTIALS, -row.surely_thresholds))
    largest = parts_of(heard[:1])[0]
    return f", {largest.text}"


def _notes(comparisons: Comparisons, missing: Sequence[str]) -> list[Finding]:
    weightiest = {name: _weightiest(notes) for name, notes in comparisons.notes.items() if notes}
    # That two guitars differ anyway bears on all that is said of them.
    first = sorted(weightiest, key=lambda name: weightiest[name].kind != SISTERS)
    findings = [
        Finding("note", name, "", note_sentence(_of_all_sisters(weightiest[name], weightiest)))
        for name in first
    ]
    distinct = list({finding.text: finding for finding in reversed(findings)}.values())[::-1]
    distinct = distinct[: MOST // 2]
    loaded = [
        Finding("note", one.comparison, "", sentence(cause_text(one, titled=True)))
        for one in comparisons.confounds
        if isinstance(one.facts, LoadFacts) and one.facts.stated_same and one.facts.moved_db
    ]
    exchanged = [
        Finding("note", "", voice, sentence(exchanged_finding(stage, voice)))
        for stage, voice in sorted(exchanged_voices(comparisons.bench))
    ]
    played = _played(comparisons)
    lacking = [Finding("note", "", "", sentence(text)) for text in missing]
    return [*played, *exchanged, *loaded, *distinct, *lacking]


def _of_all_sisters(note: Note, weightiest: Mapping[str, Note]) -> Note:
    """Return a note on two sisters as one on all guitars that are set against the same one."""
    if note.kind != SISTERS:
        return note
    one, _, *rest = note.data
    others = dict.fromkeys(
        each.data[1]
        for each in weightiest.values()
        if each.kind == SISTERS and (each.data[0], *each.data[2:]) == (one, *rest)
    )
    return Note(SISTERS, (one, tuple(others), *rest))


def _played(comparisons: Comparisons) -> list[Finding]:
    """Say once what was played instead of single notes, and what that never shows."""
    told = [note for notes in comparisons.notes.values() for note in notes if note.kind == PLAYED]
    said = list(dict.fromkeys(note_sentence(note) for note in told))[:1]
    if any(note.data[0] for note in told):
        said.append(tr(NEVER_BY_RIFF))
    elif told:
        said.append(tr(NEVER_BY_CHORD))
    return [Finding("note", "", "", " ".join(said))] if said else []


def _weightiest(notes: Sequence[Note]) -> Note:
    """Return the first note that bears on what is compared, not on what is not."""
    telling = [note for note in notes if note.kind not in (ONLY_AT_ONE, PLAYED)]
    return (telling or list(notes))[0]


def _nothing(comparisons: Comparisons) -> Finding:
    if len(comparisons.differences):
        text = tr(
            "No difference over all notes could be worked out: the takes share too few notes."
        )
    else:
        text = tr(
            "Nothing was compared: that takes usable recordings of one voice at two stages. What "
            "was measured stands below and in measurements.csv."
        )
    return Finding("nothing", "", "", text)
