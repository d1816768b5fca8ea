"""Blends of two outputs as sentences: which are full, what thins, which is near a reference."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.model import AcousticLikeness, Equaliser, EqualiserBand
from tonecompare.measure.outputs.results import BlendAdvice, Notch
from tonecompare.report.words.blend_words import (
    advice_sentences,
    likeness_sentences,
    notch_sentence,
)

BAND = EqualiserBand("peak", 800.0, 6.0, 1.0)


def _likeness(*bands: EqualiserBand, polarity: int, as_good: tuple[float, float], name: str = ""):
    equaliser = Equaliser(
        "likeness", "both", "blend", bands, 0.0, 2.0, 0.5, 0.746, np.zeros(1), 48000.0
    )
    return AcousticLikeness(
        stage="wood", voice="both", reference=name, n_notes=6, ratio=np.array([0.0, 0.5, 1.0]),
        distance=np.array([[4.04, 3.0, 2.51], [4.04, 1.96, 2.51]]), nearest_ratio=0.5,
        nearest_polarity=polarity, as_good=as_good, band_hz=np.array([100.0]),
        difference_db=np.array([1.0]), equaliser=equaliser if bands else None, beside=(),
    )  # fmt: skip


def test_the_nearest_blend_is_named_with_its_distance_and_those_of_the_outputs() -> None:
    (said,) = likeness_sentences(_likeness(polarity=1, as_good=(0.5, 0.5), name="acoustic"))
    assert said == (
        "Nearest to acoustic comes the blend of 50 % piezo: 2.0 hearing thresholds away per third "
        "octave, against 4.0 for the magnetic and 2.5 for the piezo output alone."
    )


def test_polarity_ratios_as_good_and_what_an_equaliser_gives_are_named() -> None:
    first, second = likeness_sentences(_likeness(BAND, polarity=-1, as_good=(0.4, 0.65)))
    assert "Nearest to the reference comes the blend of 50 % piezo, one output inverted" in first
    assert "(40 to 65 % are as good): 2.0 hearing" in first
    assert second.startswith("An equaliser of one band closes 75 % of the rest of the spectrum;")
    _, second = likeness_sentences(_likeness(BAND, BAND, polarity=1, as_good=(0.5, 0.5)))
    assert "An equaliser of 2 bands closes" in second


def test_ratios_and_polarity_are_advised() -> None:
    part = ((0.0, 0.2), (0.8, 1.0))
    fuller, ratios = advice_sentences(BlendAdvice(-1, -1.26, part, 2.0, (), (2512.0, 0.5)))
    assert fuller == (
        "The blend is fuller with one output inverted, by 1.3 dB on average over 80 Hz to 5 kHz."
    )
    assert ratios == (
        "Blends of 0 to 20 % or 80 to 100 % piezo keep each band within 2 dB of the power sum of "
        "its parts; the worst of the others is 2.5 kHz at 50 % piezo."
    )
    same, every = advice_sentences(BlendAdvice(None, 0.3, ((0.0, 1.0),), 2.0, (), (100.0, 0.5)))
    assert "by 0.3 dB on average, less than the 0.41 dB one can just hear" in same
    assert every.startswith("At every share of the piezo each band stays within 2 dB")
    wired, none = advice_sentences(BlendAdvice(1, 2.0, (), 2.0, (), (100.0, 0.55)))
    assert "fuller left as it is wired, by 2.0 dB" in wired
    assert none.endswith("; the worst is 100 Hz at 55 % piezo.")
    (unknown,) = advice_sentences(BlendAdvice(None, None, (), 2.0, (), None))
    assert unknown.startswith("No band stands above the quiet on both outputs")


@pytest.mark.parametrize(
    ("cause", "said"),
    [
        ("delay and polarity", ": the electronic delay of 0.50 ms turns the outputs against each "
         "other there (+1.2 dB without the delay, −0.4 dB with one inverted)."),
        ("polarity", ": the outputs oppose each other there (−0.4 dB with one inverted)."),
        ("string and filters", "; neither inverting an output nor taking out the delay changes"),
    ],
)  # fmt: skip
def test_a_notch_is_told_with_its_cause(cause: str, said: str) -> None:
    text = notch_sentence(Notch(1000.0, -12.34, 0.5, 1, cause, 5e-4, 1.2, -0.4))
    assert text.startswith(f"At 50 % piezo the blend is 12.3 dB below its parts at 1 kHz{said}")
