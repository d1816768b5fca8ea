"""What the page of a blind test says, and how its results are told."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tonecompare.compare.listening.binomial import (
    ALPHA,
    fewest_right,
    guessing_p,
    power,
)
from tonecompare.compare.listening.pooled import PooledAnswers
from tonecompare.compare.listening.sensitivity import CHANCE
from tonecompare.report.words.numbers import count, listed, number

TITLE = "Can you hear the difference?"
NO_SCRIPT = "This test needs scripts, which this browser has switched off."
LEVEL = (
    "Turn the volume down before you start. Play the level sound, which is as loud as every sound "
    "of the test, turn it up until it is comfortable, not louder, and leave it there. Use "
    "headphones in a quiet room. Rest when tired: there is no hurry and no clock."
)
WAIT = "Listen to each sound once; then you can answer."
KEEP = (
    "Put the file into the folder heard beside the recordings (SESSION/heard), or score it with "
    "tonecompare blind --score. Keep every result, good or bad: a report that knows only the good "
    "ones says nothing."
)
GUARD = (
    "Nothing you see, no label, file name, size, order or time tells the answer: all sounds have "
    "one length and one coding, and each question is drawn by the browser's own random source when "
    "it is asked. The sounds stand in this page, so someone who reads its code or taps its audio "
    "can find out which is which; the test is for listeners who want to know. The result carries a "
    "check value over all answers: it shows a file damaged or carelessly edited, and does not stop "
    "someone who makes up a result on purpose."
)
_TASK = {
    "abx": "Each question plays A, B and X. X comes from the same side as A or the same side as B: "
    "say which. A and B keep their sides for the whole test.",
    "triangle": "Each question plays A, B and C. Two come from one side and one from the other: "
    "say which is the odd one.",
}
QUESTION = {"abx": "Is X like A or like B?", "triangle": "Which is the odd one?"}
KEYS = {
    "abx": "Keys: space plays and stops, A, B and X choose the sound, 1 and 2 answer, N goes on.",
    "triangle": "Keys: space plays and stops, A, B and C choose the sound, 1, 2 and 3 answer, N "
    "goes on.",
}
#: Shares of right answers whose power is told.
_TOLD_SHARES = (0.7, 0.8, 0.9)


def task_text(task: str) -> str:
    """Return what a question asks."""
    return _TASK[task]


def power_text(task: str, trials: int) -> str:
    """Return how many questions there are, what passes, and how likely listeners pass."""
    chance = CHANCE[task]
    needed = fewest_right(trials, chance)
    if needed > trials:
        return f"There are {trials} questions: too few for any number of right answers to pass."
    told = [
        f"{_per_cent(power(share, trials, chance), 0)} when right in {_per_cent(share, 0)}"
        for share in _TOLD_SHARES
    ]
    by_luck = guessing_p(needed, trials, chance)
    return (
        f"There are {trials} questions, fixed before the start. {needed} right or more count as "
        f"heard: guessing does that in {_per_cent(by_luck)} of tests (p = {by_luck:.4f}). How "
        f"likely a listener passes: {listed(told)} of questions. The result comes at the end."
    )


def plucks_text(count_: int) -> str:
    """Return what the sounds are, and so what passing says."""
    if count_ > 1:
        return (
            f"Each side has {count_} plucks of one note, and no question plays one pluck twice: "
            "what helps is what the plucks of a side have in common. All are equally loud."
        )
    return (
        "Each side has one pluck only. Passing says that these two plucks sound different; two "
        "plucks of one unchanged guitar may do so too. All are equally loud."
    )


def result_sentences(task: str, trials: int) -> tuple[str, ...]:
    """Return the sentence for every number of right answers from none to all."""
    chance = CHANCE[task]
    needed = fewest_right(trials, chance)
    return tuple(
        f"{right} of {trials} right. Guessing gets as many or more in "
        f"{_per_cent(guessing_p(right, trials, chance))} of tests (p = "
        f"{_p(guessing_p(right, trials, chance))}). "
        + (
            "You heard a difference."
            if right >= needed
            else "That does not show that you heard a difference, nor that there is none."
        )
        for right in range(trials + 1)
    )


def heard_text(said: PooledAnswers) -> str:
    """Return what listeners' answers show, in one sentence; only then is the word heard used."""
    counts = f"{said.right} of {said.trials}, p = {_p(said.p_adjusted)}"
    if said.heard:
        who = (
            f"{said.passed} of {count(said.listeners, 'listener')}"
            if said.passed
            else f"{count(said.listeners, 'listener')} taken together, though by none alone"
        )
        return f"Heard by {who} ({counts})."
    return (
        f"Not shown to be heard in a blind test: {count(said.listeners, 'listener')}, {counts}; "
        f"that shows no difference and no sameness."
    )


def heard_short(said: PooledAnswers) -> str:
    """Return "heard by 3 of 4" of a passed test, "" of any other."""
    return f"heard by {said.passed} of {said.listeners}" if said.heard and said.passed else ""


def score_lines(said: PooledAnswers) -> tuple[str, ...]:
    """Return what a score tells beside the sentence: limits, d′, warnings."""
    share, low, high = said.share
    d, d_low, d_high = said.d_prime
    lines = [
        f"Right answers: {_per_cent(share)} (95 % limits {_per_cent(low)} to {_per_cent(high)}; "
        f"guessing {_per_cent(CHANCE[said.task])}).",
        f"d′ {_d(d)} (95 % limits {_d(d_low)} to {_d(d_high)}), "
        + ("ABX by differencing." if said.task == "abx" else "triangle."),
    ]
    if said.p_adjusted != said.p_value:
        lines.append(
            f"p = {_p(said.p_value)} for these sounds alone; {_p(said.p_adjusted)} allows for the "
            "other sounds tested."
        )
    if said.listeners > 1:
        lines.append(
            f"With {said.listeners} listeners who guess, at least one passes in "
            f"{_per_cent(said.by_luck)} of cases: the answers of all together count."
        )
    if said.again:
        lines.append(
            f"{listed(list(said.again))} took the test more than once; all answers are counted as "
            "one longer test. More tests decided by what earlier ones gave make p too small."
        )
    return tuple(lines)


def many_tests_text(sounds: int) -> str:
    """Return the warning that several pairs of sounds were tested."""
    by_luck = 1.0 - (1.0 - ALPHA) ** sounds
    return (
        f"{sounds} pairs of sounds were tested: guessing alone would pass at least one of them in "
        f"up to {_per_cent(by_luck)} of cases. Each p below allows for that (Holm)."
    )


def refused_text(files: Sequence[str], why: str) -> str:
    """Return why result files are not counted."""
    return f"Not counted: {listed(list(files))}: {why}"


def _p(value: float) -> str:
    if value < 1e-4:
        exponent = math.floor(math.log10(max(value, 1e-300)))
        return f"{value / 10.0**exponent:.1f}e{exponent}"
    return f"{value:.4f}"


def _per_cent(share: float, decimals: int = 1) -> str:
    return f"{number(100.0 * share, decimals if share == 0 or share >= 0.001 else 3)} %"


def _d(value: float) -> str:
    return "without upper end" if math.isinf(value) else f"{value:.2f}"
