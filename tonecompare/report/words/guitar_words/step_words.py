"""What a step of work brought and cost, in sentences: new voices first, then what became audible.

Nothing is called better: a step added voices, made differences likely audible or did not, and cost
so much. Where a later step brought less for more, its own numbers say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from tonecompare.compare.worth.work_steps import NewVoice, Step
from tonecompare.language import tr, tr_n
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, IN_QUIET, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.cause_names import cause_name
from tonecompare.report.words.finding_words.tone_words import (
    Part,
    bands_worth_telling,
    parts_of,
    unchanged_texts,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, number
from tonecompare.report.words.phrases import audibility, change, not_shown, unchanged

HUM = "hum_dbfs"
#: What the quiet holds, in the order it is told.
NOISES = (HUM, "buzz_dbfs", "hiss_dbfs")
#: Hum has a sentence of its own; what else the quiet holds goes with it.
_OF_QUIET = frozenset((*IN_QUIET, "signal_to_hum_db"))
#: Things told of each voice that did not become likely audible.
_SAME_SHOWN = 2
VoiceRows = dict[str, list[Difference]]


def by_voice(rows: Sequence[Difference]) -> VoiceRows:
    """Return what is spoken of by the title of its voice; partials are left to the tables."""
    outputs: dict[str, set[str]] = {}
    for row in rows:
        outputs.setdefault(row.voice, set()).add(row.output)
    groups: VoiceRows = {}
    for row in rows:
        several = len(outputs[row.voice]) > 1
        title = voice_title(row.voice, output=row.output, several_outputs=several)
        groups.setdefault(title, []).append(row)
    return {
        title: [
            *(row for row in group if row.quantity in HEADLINE and row.difference is not None),
            *bands_worth_telling(group),
        ]
        for title, group in groups.items()
    }


def likely(rows: Sequence[Difference]) -> list[Part]:
    """Return what of one voice became likely audible, the noise in its quiet left out."""
    return parts_of(
        [r for r in rows if r.verdict == "likely-audible" and r.quantity not in _OF_QUIET]
    )


def told_together(said: Mapping[str, Sequence[str]]) -> str:
    """Join what is said of each voice, what is the same of several once.

    Examples
    --------
    >>> told_together({"Bridge": ["louder"], "Middle": [], "Neck": ["louder"]})
    'Bridge and Neck: louder'
    """
    voices: dict[str, list[str]] = {}
    for title, texts in said.items():
        if texts:
            voices.setdefault(listed(list(texts)), []).append(title)
    return "; ".join(f"{listed(titles)}: {text}" for text, titles in voices.items())


def step_sentences(step: Step, rows: Sequence[Difference]) -> tuple[str, ...]:
    """Return what there is to say of one step, what the money bought first.

    Parameters
    ----------
    step
        What it cost and added.
    rows
        The differences over all notes between the stage before and this one.
    """
    voices = by_voice(rows)
    told = [*_new(step), *_audible(step, voices), *_hum(voices)]
    return (*told, *_smaller(voices), *_cautions(step))


def names_of_new(step: Step) -> list[str]:
    """Return the titles of the voices a step added, once each."""
    return list(dict.fromkeys(voice_title(new.voice) for new in step.new_voices))


def noise_heard(voices: VoiceRows) -> list[str]:
    """Name what of the noise in the pauses became likely audible on any voice."""
    return [
        words_for(quantity).noun
        for quantity in NOISES
        if any(
            row.quantity == quantity and row.verdict == "likely-audible"
            for rows in voices.values()
            for row in rows
        )
    ]


def audible_cell(voices: VoiceRows) -> str:
    """Return what the table says of the shared voices: how much became likely audible, where."""
    if not voices:
        return tr("no voice shared")
    parts = {title: len(likely(rows)) for title, rows in voices.items() if likely(rows)}
    noise = noise_heard(voices)
    pauses = f"; {tr('in the pauses {noise}', noise=listed(noise))}" if noise else ""
    if not parts:
        return tr("nothing ({voices})", voices=listed(list(voices))) + pauses
    of = ", ".join(f"{title} {n}" for title, n in parts.items())
    return f"{sum(parts.values())}: {of}{pauses}"


def _new(step: Step) -> Iterator[str]:
    new = names_of_new(step)
    if new:
        yield tr_n(
            "New: {n} voice that {before} does not have, {names}.",
            "New: {n} voices that {before} does not have, {names}.",
            len(new),
            before=step.before,
            names=listed(new),
        )
    names = [each.voice for each in step.new_voices]
    for each in step.new_voices:
        yield _nearest(each, several=names.count(each.voice) > 1)


def _nearest(new: NewVoice, *, several: bool) -> str:
    name = voice_title(new.voice, output=new.output, several_outputs=several)
    if new.distance is None or new.ci_low is None or new.ci_high is None:
        return tr("{voice}: no earlier voice shares enough notes to compare it with.", voice=name)
    return tr(
        "{voice}: nearest in shape is {nearest}, {distance} hearing thresholds away "
        "({low} to {high}).",
        voice=name,
        nearest=voice_title(new.nearest),
        distance=number(new.distance, 1),
        low=number(new.ci_low, 1),
        high=number(new.ci_high, 1),
    )


def _audible(step: Step, voices: VoiceRows) -> Iterator[str]:
    if not voices:
        yield tr(
            "No voice was recorded both at {before} and at {stage}.",
            before=step.before,
            stage=step.stage,
        )
        return
    told = told_together({t: [part.text for part in likely(rows)] for t, rows in voices.items()})
    if told:
        yield tr("Likely audible on the voices both have: {changes}.", changes=told)
        return
    names = listed(list(voices))
    if step.sister:
        yield tr(
            "Nothing likely audible against its sister {before} on {voices}.",
            before=step.before,
            voices=names,
        )
    else:
        yield tr(
            "Nothing likely audible since {before} on {voices}.", before=step.before, voices=names
        )


def _hum(voices: VoiceRows) -> Iterator[str]:
    """Say what hum did, and buzz and hiss where they moved; the same of many voices at once."""
    for quantity in NOISES:
        said: dict[str, list[str]] = {}
        for title, rows in voices.items():
            for row in (row for row in rows if row.quantity == quantity):
                if quantity == HUM or row.claimed:
                    said.setdefault(_of_noise(row), []).append(title)
        if said:
            told = "; ".join(f"{listed(titles)} {text}" for text, titles in said.items())
            yield f"{words_for(quantity).label}: {told}."


def _of_noise(row: Difference) -> str:
    noun = f"{words_for(row.quantity).noun} "
    if row.verdict == "no-change":
        return unchanged(row).removeprefix(noun)
    if row.verdict == "undecided":
        return tr("open, {figures}", figures=not_shown(row).removeprefix(noun))
    told = change(row).removeprefix(noun)
    cause = tr(audibility(row))
    if row.verdict == "confounded":
        cause = tr("with another possible cause than the work")
    return f"{told}, {cause}" if cause else told


def _smaller(voices: VoiceRows) -> Iterator[str]:
    """Say what changed less, what did not, and how much is open."""
    quiet = {title: [r for r in rows if r.quantity not in _OF_QUIET]
             for title, rows in voices.items()}  # fmt: skip
    measurable = {t: [r for r in rows if r.verdict == "measurable"] for t, rows in quiet.items()}
    told = told_together({t: [p.text for p in parts_of(rows)] for t, rows in measurable.items()})
    if told:
        yield tr("Measurable, at most audible in direct comparison: {changes}.", changes=told)
    same = {t: [r for r in rows if r.verdict == "no-change"] for t, rows in quiet.items()}
    told = told_together({t: unchanged_texts(rows)[:_SAME_SHOWN] for t, rows in same.items()})
    if told:
        yield tr("Not expected to be audible: {changes}.", changes=told)
    rows = [row for each in quiet.values() for row in each if row.quantity not in BAND_SHAPES]
    unsure = [sum(row.verdict == name for row in rows) for name in ("undecided", "confounded")]
    if unsure[0]:
        yield tr_n(
            "Open: {unsure} of {n} difference; see the table above.",
            "Open: {unsure} of {n} differences; see the table above.",
            len(rows),
            unsure=unsure[0],
        )
    if unsure[1]:
        yield tr_n(
            "{n} difference may come from something else than the work; see the table above.",
            "{n} differences may come from something else than the work; see the table above.",
            unsure[1],
        )


def _cautions(step: Step) -> Iterator[str]:
    if step.sister:
        yield tr(
            "{stage} is another guitar than {before}: all of this includes what two guitars of "
            "one model differ in before anyone touches them.",
            stage=step.stage,
            before=step.before,
        )
    if len(step.work) > 1:
        yield tr(
            "{n} pieces of work lie between the two recordings: what each of them did cannot be "
            "told apart.",
            n=len(step.work),
        )
    if step.confounds:
        yield tr(
            "Not all of it need be the work's: {causes} also changed since {before}.",
            causes=listed([cause_name(kind) for kind in step.confounds]),
            before=step.before,
        )


def heard_in(voices: VoiceRows) -> int:
    """Count what became likely audible on all voices, the noise in the pauses left out."""
    return sum(len(likely(rows)) for rows in voices.values())
