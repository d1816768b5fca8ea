"""Which blend of two outputs comes nearest to a reference, as sentences."""

from __future__ import annotations

import numpy as np

from tonecompare.compare.model import AcousticLikeness, Equaliser, EqualiserBand
from tonecompare.report.words.blend_words import likeness_sentences

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
        "Nearest to acoustic comes the blend at ratio 0.50: 2.0 hearing thresholds away per third "
        "octave, against 4.0 for the magnetic and 2.5 for the piezo output alone."
    )


def test_polarity_ratios_as_good_and_what_an_equaliser_gives_are_named() -> None:
    first, second = likeness_sentences(_likeness(BAND, polarity=-1, as_good=(0.4, 0.65)))
    assert "Nearest to the reference comes the blend at ratio 0.50, one output inverted" in first
    assert "(ratios 0.40 to 0.65 are as good): 2.0 hearing" in first
    assert second.startswith("An equaliser of one band closes 75 % of the rest of the spectrum;")
    _, second = likeness_sentences(_likeness(BAND, BAND, polarity=1, as_good=(0.5, 0.5)))
    assert "An equaliser of 2 bands closes" in second
