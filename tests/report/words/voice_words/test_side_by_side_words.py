"""The sentences on voices side by side say what their numbers carry."""

from __future__ import annotations

from dataclasses import replace

from voices_made import Made, stage_of

from tonecompare.compare.model import BenchSign
from tonecompare.report.words.voice_words import (
    chart_title,
    sound_titles,
    stage_sentences,
    tone_told,
)

_BANDS = (-12.0, -6.0, -5.0, -8.0, -14.0, -20.0, -30.0, -60.0)


def _told(made, bench=()):
    voices = stage_of(made)
    return " ".join(stage_sentences(voices, sound_titles(voices), bench))


def test_loudest_softest_farthest_and_hum_are_named_with_their_sizes():
    text = _told(
        {
            "neck": Made(level_db=-18.0, bands_db=_BANDS),
            "neck-split": Made(level_db=-24.0, bands_db=_BANDS, hum_db=-60.0),
            "bridge-split": Made(level_db=-23.0, bands_db=_BANDS, hum_db=-60.3),
        }
    )
    assert "Neck is the loudest and Neck (split) the softest, 6.0 dB below it" in text
    assert "Farthest apart stand Neck (split) and Neck: 6.0 hearing thresholds in level" in text
    assert "Neck (split) and Bridge (split) hum most, 19.7 to 20.0 dB above Neck." in text
    assert "work" not in text
    assert "before" not in text
    assert "after" not in text


def test_a_voice_not_shown_to_be_softer_is_said_to_be_open():
    text = _told({"neck": Made(), "bridge": Made(level_db=-20.02), "middle": Made(level_db=-28.0)})
    assert "whether Bridge is softer is open" in text


def test_alike_is_said_with_what_hum_still_tells():
    text = _told({"neck": Made(bands_db=_BANDS), "middle": Made(bands_db=_BANDS, hum_db=-66.0)})
    assert "Middle and Neck can hardly be told apart" in text or (
        "Neck and Middle can hardly be told apart" in text
    )
    assert "their hum differs by 14 dB" in text


def test_nothing_alike_is_not_called_alike():
    text = _told({"neck": Made(), "bridge": Made(level_db=-25.0), "middle": Made(level_db=-22.0)})
    assert "No two voices are shown to sound alike. Nearest are" in text
    assert "hardly" not in text


def test_unlike_coils_are_told_in_percent_without_a_formula():
    sign = BenchSign(
        "heron", "neck", "magnetic", "coil-mismatch", "neck-split", 10.0, "%", 0.6, (-20.0, "")
    )
    text = _told({"neck": Made(), "neck-split": Made(level_db=-26.0)}, [sign])
    assert "says how unlike they are: Neck by 10 ± 1 %, if all hum comes in by the coils." in text
    assert "|" not in text


def test_the_title_of_the_chart_is_a_finding():
    voices = stage_of({"neck": Made(), "piezo": Made(level_db=-30.0)})
    assert chart_title(voices, sound_titles(voices)) == "Piezo: 10 dB softer than Neck"
    same = stage_of({"neck": Made(), "bridge": Made(level_db=-20.01)})
    assert chart_title(same, sound_titles(same)) == "No voice surely softer than Neck"


def test_tone_tells_the_largest_bands_that_surely_differ():
    voices = stage_of(
        {
            "neck": Made(bands_db=_BANDS),
            "bridge": Made(
                level_db=-22.0, bands_db=tuple(db + (3.0 if n == 5 else 0) for n, db in
                                               enumerate(_BANDS))
            ),
        }
    )  # fmt: skip
    (pair,) = voices.against_loudest
    assert tone_told(pair.cells) == "upper mids (2 kHz) +3.0 dB"


def test_a_mismatch_known_to_less_than_its_digit_is_not_called_exact():
    sign = BenchSign(
        "heron", "neck", "magnetic", "coil-mismatch", "neck-split", 3.0, "%", 0.04, (-30.0, "")
    )
    text = _told({"neck": Made(), "neck-split": Made(level_db=-26.0)}, [sign])
    assert "unlike they are: Neck by 3.0 ± 0.1 %, if all hum" in text


def test_an_upper_end_that_tells_nothing_is_not_written():
    text = _told(
        {
            "neck": Made(bands_db=_BANDS, scatter_db=20.0),
            "bridge": Made(bands_db=_BANDS, scatter_db=20.0, level_db=-24.0),
            "middle": Made(bands_db=_BANDS, scatter_db=20.0, level_db=-27.0),
        }
    )
    assert "how far at most, these takes do not show" in text
    assert "leave open" not in text


def test_of_two_voices_nothing_is_called_most_or_farthest():
    text = _told(
        {
            "neck": Made(level_db=-18.0, bands_db=_BANDS),
            "bridge": Made(level_db=-24.0, bands_db=_BANDS, hum_db=-75.0),
        }
    )
    assert text.startswith("Neck is 6.0 dB louder than Bridge (")
    assert "They stand 6.0 hearing thresholds apart in level, " in text
    assert "Bridge hums 5.0 dB more than Neck (" in text
    assert not any(word in text for word in ("loudest", "softest", "arthest", "most,"))


def test_bands_alone_that_are_alike_make_a_sentence():
    made = {"neck": Made(bands_db=_BANDS), "middle": Made(bands_db=_BANDS)}
    voices = stage_of(made)
    for pair in (*voices.against_loudest, *voices.nearest):
        pair.cells["decay_s"] = replace(pair.cells["decay_s"], difference=None)
    said = " ".join(stage_sentences(voices, sound_titles(voices)))
    assert "told apart: level and every band differ by less than a hearing threshold" in said
