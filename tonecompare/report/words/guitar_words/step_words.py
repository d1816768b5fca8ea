"""What a step of work brought and cost, in sentences: new voices first, then what became audible.

Nothing is called better: a step added voices, made differences likely audible or did not, and cost
so much. Where a later step brought less for more, its own numbers say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from tonecompare.compare.worth.work_steps import NewVoice, Step
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, IN_QUIET, words_for
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.tone_words import (
    Part,
    bands_worth_telling,
    parts_of,
    unchanged_texts,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import count, listed, number
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


def gained(step: Step, voices: VoiceRows) -> str:
    """Say in one clause what a step changed and added: "made … on …; it added …"."""
    parts = {title: len(likely(rows)) for title, rows in voices.items()}
    heard = [title for title, found in parts.items() if found]
    before = f"its sister {step.before}" if step.sister else step.before
    noise = _noise_heard(voices)
    shared = f"{_all_of(len(parts))} it shares with {before}"
    if not parts:
        said = f"shares no voice with {before}"
    elif not heard:
        verb = "shows" if step.sister else "changed"
        but = f" but {listed(noise)} in the pauses" if noise else ""
        said = f"{verb} nothing likely audible on {shared}{but}"
    else:
        what = count(sum(parts.values()), "likely audible difference")
        some = "" if len(heard) == len(parts) else f"{len(heard)} of "
        where = f"the {len(parts)} voices it shares with {before}" if some else shared
        beside = f", besides {listed(noise)} in the pauses" if noise else ""
        said = f"{'shows' if step.sister else 'made'} {what} on {some}{where}{beside}"
    new = names_of_new(step)
    if step.sister:
        more = f"{count(len(new), 'voice')} more ({listed(new)})" if new else "no further voice"
        return f"{said}, and has {more}"
    more = f"{count(len(new), 'voice')} ({listed(new)})" if new else "no voice"
    return f"{said}, and added {more}"


def _noise_heard(voices: VoiceRows) -> list[str]:
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


def _all_of(n: int) -> str:
    return {1: "the one voice", 2: "both voices"}.get(n, f"all {n} voices")


def audible_cell(voices: VoiceRows) -> str:
    """Return what the table says of the shared voices: how much became likely audible, where."""
    if not voices:
        return "no voice shared"
    parts = {title: len(likely(rows)) for title, rows in voices.items() if likely(rows)}
    noise = _noise_heard(voices)
    pauses = f"; in the pauses {listed(noise)}" if noise else ""
    if not parts:
        return f"nothing ({listed(list(voices))}){pauses}"
    of = ", ".join(f"{title} {n}" for title, n in parts.items())
    return f"{sum(parts.values())}: {of}{pauses}"


def _new(step: Step) -> Iterator[str]:
    new = names_of_new(step)
    if new:
        yield f"New: {count(len(new), 'voice')} that {step.before} does not have, {listed(new)}."
    names = [each.voice for each in step.new_voices]
    for each in step.new_voices:
        yield _nearest(each, several=names.count(each.voice) > 1)


def _nearest(new: NewVoice, *, several: bool) -> str:
    name = voice_title(new.voice, output=new.output, several_outputs=several)
    if new.distance is None or new.ci_low is None or new.ci_high is None:
        return f"{name}: no earlier voice shares enough notes to compare it with."
    return (
        f"{name}: nearest in shape is {voice_title(new.nearest)}, "
        f"{number(new.distance, 1)} hearing thresholds away "
        f"({number(new.ci_low, 1)} to {number(new.ci_high, 1)})."
    )


def _audible(step: Step, voices: VoiceRows) -> Iterator[str]:
    if not voices:
        yield f"No voice was recorded both at {step.before} and at {step.stage}."
        return
    heard = {title: likely(rows) for title, rows in voices.items()}
    told = [
        f"{title}: {listed([part.text for part in parts])}"
        for title, parts in heard.items()
        if parts
    ]
    if told:
        yield f"Likely audible on the voices both have: {'; '.join(told)}."
        return
    against = f"against its sister {step.before}" if step.sister else f"since {step.before}"
    yield f"Nothing likely audible {against} on {listed(list(voices))}."


def _hum(voices: VoiceRows) -> Iterator[str]:
    """Say what hum did, and buzz and hiss where they moved; the same of many voices at once."""
    for quantity in NOISES:
        said: dict[str, list[str]] = {}
        for title, rows in voices.items():
            for row in (row for row in rows if row.quantity == quantity):
                if quantity == HUM or row.verdict in ("likely-audible", "measurable"):
                    said.setdefault(_of_noise(row), []).append(title)
        if said:
            told = "; ".join(f"{listed(titles)} {text}" for text, titles in said.items())
            yield f"{words_for(quantity).label}: {told}."


def _of_noise(row: Difference) -> str:
    noun = f"{words_for(row.quantity).noun} "
    if row.verdict == "no-change":
        return unchanged(row).removeprefix(noun)
    if row.verdict == "undecided":
        return f"open, {not_shown(row).removeprefix(noun)}"
    told = change(row).removeprefix(noun)
    heard = audibility(row)
    cause = "with another possible cause than the work" if row.verdict == "confounded" else heard
    return f"{told}, {cause}" if cause else told


def _smaller(voices: VoiceRows) -> Iterator[str]:
    """Say what changed less, what did not, and how much is open."""
    quiet = {title: [r for r in rows if r.quantity not in _OF_QUIET]
             for title, rows in voices.items()}  # fmt: skip
    measurable = {t: [r for r in rows if r.verdict == "measurable"] for t, rows in quiet.items()}
    told = [
        f"{title}: {listed([part.text for part in parts_of(rows)])}"
        for title, rows in measurable.items()
        if rows
    ]
    if told:
        yield f"Measurable, at most audible in direct comparison: {'; '.join(told)}."
    same = {t: [r for r in rows if r.verdict == "no-change"] for t, rows in quiet.items()}
    told = [
        f"{title}: {listed(unchanged_texts(rows)[:_SAME_SHOWN])}"
        for title, rows in same.items()
        if rows and unchanged_texts(rows)
    ]
    if told:
        yield f"Not expected to be audible: {'; '.join(told)}."
    rows = [row for each in quiet.values() for row in each if row.quantity not in BAND_SHAPES]
    unsure = [sum(row.verdict == name for row in rows) for name in ("undecided", "confounded")]
    if unsure[0]:
        yield f"Open: {unsure[0]} of {count(len(rows), 'difference')}; see the table above."
    if unsure[1]:
        yield (
            f"{count(unsure[1], 'difference')} may come from something else than the work; see "
            "the table above."
        )


def _cautions(step: Step) -> Iterator[str]:
    if step.sister:
        yield (
            f"{step.stage} is another guitar than {step.before}: all of this includes what two "
            "guitars of one model differ in before anyone touches them."
        )
    if len(step.work) > 1:
        yield (
            f"{count(len(step.work), 'piece')} of work lie between the two recordings: what each "
            "of them did cannot be told apart."
        )
    if step.confounds:
        kinds = listed([kind.replace("-", " ") for kind in step.confounds])
        yield f"Not all of it need be the work's: {kinds} also moved since {step.before}."


def steps_in_turn(steps: Sequence[Step]) -> list[tuple[Step, Step]]:
    """Return which step is set against which: the next of a line, the next dearer alternative."""
    named = {step.stage: step for step in steps}
    pairs = [(named[step.before], step) for step in steps if step.before in named]
    alternatives: dict[str, list[Step]] = {}
    for step in steps:
        if step.before not in named:
            alternatives.setdefault(step.before, []).append(step)
    for group in alternatives.values():
        group.sort(key=lambda step: _spent(step) or 0.0)
        pairs += pairwise(group)
    return pairs


def returns(earlier: Step, later: Step, voices: tuple[VoiceRows, VoiceRows], *, money: str) -> str:
    """Say what a step cost and brought beside the one before it, in one sentence of its numbers.

    Parameters
    ----------
    earlier, later
        The two steps.
    voices
        The differences of each from its stage before, by voice.
    money
        "45 against 20 EUR", "" where it is not known.
    """
    one, other = _spent(earlier), _spent(later)
    if one and other:
        ratio = number(other / one, 1)
        lead = f"cost {ratio} times what {earlier.stage} did ({money})"
    elif earlier.hours and later.hours:
        lead = f"took {number(later.hours / earlier.hours, 1)} times the hours of {earlier.stage}"
    else:
        lead = f"stands beside {earlier.stage}"
    sisters = earlier.sister or later.sister
    warning = (
        " What two guitars of one model differ in anyway is in these numbers." if sisters else ""
    )
    return (
        f"{later.stage} {lead}; it {gained(later, voices[1])}. {earlier.stage} "
        f"{gained(earlier, voices[0])}.{warning}"
    )


def finding(steps: Sequence[Step], voices: Sequence[VoiceRows]) -> str:
    """Return the title of the chart: what the last of some steps brought for its cost."""
    step = steps[-1]
    heard = sum(len(likely(rows)) for rows in voices[-1].values())
    said = count(heard, "likely audible difference") if heard else "nothing likely audible"
    if not heard and _noise_heard(voices[-1]):
        said = "only noise likely audible"
    if not step.shared_voices:
        said = "no voice to set against"
    new = count(len(names_of_new(step)), "new voice") if step.new_voices else "no new voice"
    before = next((each for each, last in steps_in_turn(steps) if last is step), None)
    cost = ""
    if before is not None and _spent(before) and _spent(step):
        ratio = number((_spent(step) or 0.0) / (_spent(before) or 1.0), 1)
        cost = f"{ratio} times the cost of {before.stage}, "
    return f"{step.stage}: {cost}{said} on old voices, {new}"


def _spent(step: Step) -> float | None:
    return step.money or None
