"""What the page of a blind test says, and how its results are told."""

from __future__ import annotations

import math

from tonecompare.compare.listening.binomial import ALPHA, fewest_right, guessing_p, power
from tonecompare.compare.listening.pooled import PooledAnswers
from tonecompare.compare.listening.sensitivity import CHANCE
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.words.numbers import listed, number

TITLE = tr_later("Can you hear the difference?")
NO_SCRIPT = tr_later("This test needs scripts, which this browser has switched off.")
LEVEL = tr_later(
    "Turn the volume down before you start. Play the level sound, which is as loud as every sound "
    "of the test, turn it up until it is comfortable, not louder, and leave it there. Use "
    "headphones in a quiet room. Rest when tired: there is no hurry and no clock."
)
WAIT = tr_later("Listen to each sound once; then you can answer.")
KEEP = tr_later(
    "Put the file into the folder heard beside the recordings (SESSION/heard), or score it with "
    "tonecompare blind --score. Keep every result, good or bad: a report that knows only the good "
    "ones says nothing."
)
GUARD = tr_later(
    "Nothing you see, no label, file name, size, order or time tells the answer: all sounds have "
    "one length and one coding, and each question is drawn by the browser's own random source when "
    "it is asked. The sounds stand in this page, so someone who reads its code or taps its audio "
    "can find out which is which; the test is for listeners who want to know. The result carries a "
    "check value over all answers: it shows a file damaged or carelessly edited, and does not stop "
    "someone who makes up a result on purpose."
)
_TASK = {
    "abx": tr_later(
        "Each question plays A, B and X. X comes from the same side as A or the same side as B: "
        "say which. A and B keep their sides for the whole test."
    ),
    "triangle": tr_later(
        "Each question plays A, B and C. Two come from one side and one from the other: say which "
        "is the odd one."
    ),
}
QUESTION = {
    "abx": tr_later("Is X like A or like B?"),
    "triangle": tr_later("Which is the odd one?"),
}
KEYS = {
    "abx": tr_later(
        "Keys: space plays and stops, A, B and X choose the sound, 1 and 2 answer, N goes on."
    ),
    "triangle": tr_later(
        "Keys: space plays and stops, A, B and C choose the sound, 1, 2 and 3 answer, N goes on."
    ),
}
#: Shares of right answers whose power is told.
_TOLD_SHARES = (0.7, 0.8, 0.9)


def task_text(task: str) -> str:
    """Return what a question asks."""
    return tr(_TASK[task])


def power_text(task: str, trials: int) -> str:
    """Return how many questions there are, what passes, and how likely listeners pass."""
    chance = CHANCE[task]
    needed = fewest_right(trials, chance)
    if needed > trials:
        return tr(
            "There are {trials} questions: too few for any number of right answers to pass.",
            trials=trials,
        )
    told = [
        tr(
            "{power} when right in {share}",
            power=_per_cent(power(share, trials, chance), 0),
            share=_per_cent(share, 0),
        )
        for share in _TOLD_SHARES
    ]
    by_luck = guessing_p(needed, trials, chance)
    return tr(
        "There are {trials} questions, fixed before the start. {needed} right or more count as "
        "heard: guessing does that in {by_luck} of tests (p = {p}). How likely a listener passes: "
        "{passes} of questions. The result comes at the end.",
        trials=trials,
        needed=needed,
        by_luck=_per_cent(by_luck),
        p=number(by_luck, 4),
        passes=listed(told),
    )


def plucks_text(count_: int) -> str:
    """Return what the sounds are, and so what passing says."""
    if count_ > 1:
        return tr(
            "Each side has {plucks} plucks of one note, and no question plays one pluck twice: "
            "what helps is what the plucks of a side have in common. All are equally loud.",
            plucks=count_,
        )
    return tr(
        "Each side has one pluck only. Passing says that these two plucks sound different; two "
        "plucks of one unchanged guitar may do so too. All are equally loud."
    )


def result_sentences(task: str, trials: int) -> tuple[str, ...]:
    """Return the sentence for every number of right answers from none to all."""
    chance = CHANCE[task]
    needed = fewest_right(trials, chance)
    heard = tr("You heard a difference.")
    not_shown = tr("That does not show that you heard a difference, nor that there is none.")
    counted = (
        tr(
            "{right} of {trials} right. Guessing gets as many or more in {by_luck} of tests "
            "(p = {p}).",
            right=right,
            trials=trials,
            by_luck=_per_cent(guessing_p(right, trials, chance)),
            p=_p(guessing_p(right, trials, chance)),
        )
        for right in range(trials + 1)
    )
    return tuple(
        f"{told} {heard if right >= needed else not_shown}" for right, told in enumerate(counted)
    )


def heard_text(said: PooledAnswers) -> str:
    """Return what listeners' answers show, in one sentence; only then is the word heard used."""
    counts = tr(
        "{right} of {trials}, p = {p}",
        right=said.right,
        trials=said.trials,
        p=_p(said.p_adjusted),
    )
    if said.heard and said.passed:
        return tr_n(
            "Heard by {passed} of {n} listener ({counts}).",
            "Heard by {passed} of {n} listeners ({counts}).",
            said.listeners,
            passed=said.passed,
            counts=counts,
        )
    if said.heard:
        return tr_n(
            "Heard by {n} listener taken together, though by none alone ({counts}).",
            "Heard by {n} listeners taken together, though by none alone ({counts}).",
            said.listeners,
            counts=counts,
        )
    return tr_n(
        "Not shown to be heard in a blind test: {n} listener, {counts}; that shows no difference "
        "and no sameness.",
        "Not shown to be heard in a blind test: {n} listeners, {counts}; that shows no difference "
        "and no sameness.",
        said.listeners,
        counts=counts,
    )


def heard_short(said: PooledAnswers) -> str:
    """Return "heard by 3 of 4" of a passed test, "" of any other."""
    if not (said.heard and said.passed):
        return ""
    return tr("heard by {passed} of {listeners}", passed=said.passed, listeners=said.listeners)


def score_lines(said: PooledAnswers) -> tuple[str, ...]:
    """Return what a score tells beside the sentence: limits, d′, warnings."""
    share, low, high = said.share
    d, d_low, d_high = said.d_prime
    how = tr("ABX by differencing") if said.task == "abx" else tr("triangle")
    lines = [
        tr(
            "Right answers: {share} (95 % limits {low} to {high}; guessing {chance}).",
            share=_per_cent(share),
            low=_per_cent(low),
            high=_per_cent(high),
            chance=_per_cent(CHANCE[said.task]),
        ),
        tr(
            "d′ {d} (95 % limits {low} to {high}), {how}.",
            d=_d(d),
            low=_d(d_low),
            high=_d(d_high),
            how=how,
        ),
    ]
    if said.p_adjusted != said.p_value:
        lines.append(
            tr(
                "p = {p} for these sounds alone; {adjusted} allows for the other sounds tested.",
                p=_p(said.p_value),
                adjusted=_p(said.p_adjusted),
            )
        )
    if said.listeners > 1:
        lines.append(
            tr(
                "With {listeners} listeners who guess, at least one passes in {by_luck} of cases: "
                "the answers of all together count.",
                listeners=said.listeners,
                by_luck=_per_cent(said.by_luck),
            )
        )
    if said.again:
        lines.append(
            tr(
                "{listeners} took the test more than once; all answers are counted as one longer "
                "test. More tests decided by what earlier ones gave make p too small.",
                listeners=listed(list(said.again)),
            )
        )
    return tuple(lines)


def many_tests_text(sounds: int) -> str:
    """Return the warning that several pairs of sounds were tested."""
    by_luck = 1.0 - (1.0 - ALPHA) ** sounds
    return tr(
        "{pairs} pairs of sounds were tested: guessing alone would pass at least one of them in "
        "up to {by_luck} of cases. Each p below allows for that (Holm).",
        pairs=sounds,
        by_luck=_per_cent(by_luck),
    )


def _p(value: float) -> str:
    if value < 1e-4:
        exponent = math.floor(math.log10(max(value, 1e-300)))
        return f"{number(value / 10.0**exponent, 1)}e{exponent}"
    return number(value, 4)


def _per_cent(share: float, decimals: int = 1) -> str:
    return f"{number(100.0 * share, decimals if share == 0 or share >= 0.001 else 3)} %"


def _d(value: float) -> str:
    return tr("without upper end") if math.isinf(value) else number(value, 2)
