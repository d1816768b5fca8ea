"""The page of a blind test: one file with the sounds inside, no server, nothing loaded."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

import numpy as np
from markupsafe import Markup

from tonecompare.arrays import FloatArray
from tonecompare.language import tr
from tonecompare.report.makers import MADE_BY_BLIND
from tonecompare.report.page.layout import environment, policy
from tonecompare.report.sounds.aligned import SoundReader, common_loudness
from tonecompare.report.sounds.selection import SoundPair
from tonecompare.report.words.listening_words import blind_words
from tonecompare.report.words.names import comparison_title, voice_title

#: Longest sound and most plucks a side: 8 sounds of 2.5 s are 4 MB of text.
LONGEST_S, MOST_PLUCKS = 2.5, 4


@dataclass(frozen=True)
class BlindTest:
    """What the page of a test carries; ``sides`` are samples of one length and loudness."""

    task: str
    trials: int
    comparison: str
    voice: str
    output: str
    note: str
    rate_hz: float
    sides: tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]


def blind_test(pair: SoundPair, reader: SoundReader, *, task: str, trials: int) -> BlindTest:
    """Cut, align and match the sounds of a test.

    Raises
    ------
    RecordingError, ValueError
        When a file cannot be read again, or the sides have different sample rates.
    """
    sounds = reader.aligned((*pair.before, *pair.after))
    loudness = common_loudness(sounds)
    played = [sound.at(loudness) for sound in sounds]
    count = len(pair.before)
    return BlindTest(
        task,
        trials,
        pair.comparison,
        pair.voice,
        pair.output,
        pair.note,
        sounds[0].rate_hz,
        (tuple(played[:count]), tuple(played[count:])),
    )


def blind_html(test: BlindTest) -> str:
    """Return the text of the page.

    The sounds are 24-bit samples without any header, so that all have one size; they stand in an
    order that their own checksums give.
    """
    coded = sorted(
        ((side, _coded(samples)) for side, sounds in enumerate(test.sides) for samples in sounds),
        key=lambda one: sha256(one[1].encode()).hexdigest(),
    )
    identity = sha256("\n".join(text for _, text in coded).encode()).hexdigest()[:16]
    page = sha256(f"{identity} {test.task} {test.trials}".encode()).hexdigest()[:16]
    slots, answers = _labels(test.task)
    laid_out = environment("tonecompare.report.blind")
    before, _, after = test.comparison.partition(" to ")
    style = Markup(laid_out.get_template("blind.css.j2").render())
    script = Markup(laid_out.get_template("blind.js.j2").render())
    return laid_out.get_template("blind.html.j2").render(
        policy=policy(style, script),
        style=style,
        script=script,
        made_by=MADE_BY_BLIND,
        words=blind_words,
        about=tr(
            "Two sides of one comparison ({comparison}), voice {voice}, note {note}.",
            comparison=comparison_title(before, after) if after else before,
            voice=voice_title(test.voice),
            note=test.note,
        ),
        task_text=blind_words.task_text(test.task),
        power_text=blind_words.power_text(test.task, test.trials),
        plucks_text=blind_words.plucks_text(len(test.sides[0])),
        keys=tr(blind_words.KEYS[test.task]),
        question=tr(blind_words.QUESTION[test.task]),
        slots=slots,
        answers=answers,
        test={
            "page": page,
            "id": identity,
            "task": test.task,
            "trials": test.trials,
            "comparison": test.comparison,
            "voice": test.voice,
            "output": test.output,
            "note": test.note,
            "rate": test.rate_hz,
            "said": blind_words.result_sentences(test.task, test.trials),
            "sounds": coded,
        },
    )


def _labels(task: str) -> tuple[Sequence[str], Sequence[tuple[str, str]]]:
    if task == "abx":
        return "ABX", [(one, tr("X is like {sound}", sound=one)) for one in "AB"]
    return "ABC", [(one, tr("{sound} is the odd one", sound=one)) for one in "ABC"]


def _coded(samples: FloatArray) -> str:
    """Return samples as signed 24 bit, lowest byte first, in base64."""
    whole = np.round(np.clip(samples, -1.0, 1.0 - 2.0**-23) * 2.0**23).astype("<i4")
    return b64encode(whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()).decode("ascii")
