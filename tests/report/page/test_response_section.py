"""What an equaliser could have done, in words and as a file."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from scipy.io import wavfile

from tonecompare.report.charts.draw_all import Album
from tonecompare.report.page.response_section import equaliser_views

VOICE = ("bridge", "magnetic")
COMPARISON = "heron-stock to heron-rewound"


def _view(equaliser, album):
    return equaliser_views(album, [equaliser], VOICE, COMPARISON, name="bridge")


def test_the_sentence_says_how_much_is_left(story):
    (view,) = _view(story.comparisons.equalisers[0], Album())
    assert view.sentence == (
        "2 bands and +0.8 dB overall would leave 0.5 dB of the 2.4 dB (RMS over frequency) by "
        "which the two differ: a tone control of this kind would have given 79 % of the "
        "difference in spectrum."
    )
    assert view.bands[0] == ("low shelf", "180 Hz", "+1.4 dB", "0.70")
    assert view.bands[1] == ("bell", "2.60 kHz", "−3.1 dB", "1.20")


def test_a_gain_alone_is_a_volume_control(story):
    (view,) = _view(replace(story.comparisons.equalisers[0], bands=()), Album())
    assert view.sentence.startswith("+0.8 dB alone would leave 0.5 dB")
    assert "the volume control would have given 79 %" in view.sentence


def test_the_impulse_response_is_filed_as_it_is(story):
    album = Album()
    (view,) = _view(story.comparisons.equalisers[0], album)
    assert view.href == "equalisers/bridge.wav"
    rate, samples = wavfile.read(io.BytesIO(album.files[view.href]))
    assert rate == 48000
    np.testing.assert_allclose(samples, [1.1, 0.2, -0.1], rtol=1e-6)


def test_no_response_no_file_and_no_help_is_not_negative(story):
    silent = replace(story.comparisons.equalisers[0], impulse_response=np.zeros(4), share=-0.2)
    album = Album()
    (view,) = _view(silent, album)
    assert view.href == ""
    assert album.files == {}
    assert "given 0 % of the difference" in view.sentence


def test_what_could_not_be_worked_out_is_not_given_a_number(story):
    equaliser = story.comparisons.equalisers[0]
    (view,) = _view(replace(equaliser, share=float("nan")), Album())
    assert view.sentence.endswith("by which the two differ.")
    (view,) = _view(replace(equaliser, rms_left_db=float("nan")), Album())
    assert view.sentence.endswith("could not be worked out.")


def test_another_voice_has_none(story):
    assert (
        equaliser_views(
            Album(), story.comparisons.equalisers, ("neck", "magnetic"), COMPARISON, name="neck"
        )
        == ()
    )
