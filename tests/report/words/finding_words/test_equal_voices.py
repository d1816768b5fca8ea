"""What many voices share is one sentence, and each voice's own sentence no longer says it."""

from __future__ import annotations

from tonecompare.report.words.findings import find
from tonecompare.report.words.listening_words.film_words import NOTHING_SAID, scene_words

_VOICES = ("bridge", "middle", "neck", "both")


def _hum(row, voice, value=-11.0, **more):
    return row(
        quantity="hum_dbfs", voice=voice, difference=value, ci_low=value - 0.8,
        ci_high=value + 0.8, hearing_threshold=1.0, **more,
    )  # fmt: skip


def _decay(row, voice):
    return row(
        quantity="decay_s", unit="%", voice=voice, difference=1.0, ci_low=-4.0, ci_high=6.0,
        hearing_threshold=25.0, verdict="no-change",
    )  # fmt: skip


def test_all_voices_whose_hum_fell_alike_are_one_sentence(row, comparisons_of):
    rows = [
        _hum(row, voice, value) for voice, value in zip(_VOICES, (-11.0, -11.4, -10.8, -11.2),
                                                       strict=True)
    ]  # fmt: skip
    rows += [_decay(row, voice) for voice in _VOICES]
    rows.append(row(voice="neck"))  # 5.7 dB quieter, alone
    texts = [finding.text for finding in find(comparisons_of(*rows))]
    # The interval covers those of all four: 10.8 − 0.8 to 11.4 + 0.8.
    assert any(
        text.startswith("All 4 voices: hum down by 11 dB (10 to 12)")
        and "decay unchanged within 6 %" in text
        for text in texts
    )
    (neck,) = (text for text in texts if text.startswith("Neck:"))
    assert "hum" not in neck
    assert "decay" not in neck
    assert len(texts) == 2


def test_a_voice_that_fell_by_more_is_told_by_itself(row, comparisons_of):
    rows = [_hum(row, voice) for voice in _VOICES[:3]] + [_hum(row, "both", -25.0)]
    texts = [finding.text for finding in find(comparisons_of(*rows))]
    assert any(text.startswith("Bridge, Middle and Neck: hum down by 11 dB") for text in texts)
    assert any(text.startswith("Both: hum down by 25 dB") for text in texts)


def test_two_voices_are_not_many_and_opposite_ways_are_not_equal(row, comparisons_of):
    two = find(comparisons_of(_hum(row, "neck"), _hum(row, "bridge")))
    assert [finding.title for finding in two] == ["Neck", "Bridge"]
    apart = [_hum(row, "neck"), _hum(row, "bridge"), _hum(row, "middle", 11.0)]
    assert {finding.title for finding in find(comparisons_of(*apart))} == {
        "Neck", "Bridge", "Middle",
    }  # fmt: skip


def test_a_shared_sentence_carries_every_row_it_rests_on(row, comparisons_of):
    (finding,) = find(comparisons_of(*(_hum(row, voice) for voice in _VOICES)))
    assert {one.voice for one in finding.rows} == set(_VOICES)
    assert (finding.kind, finding.voice, finding.title) == ("change", "", "All 4 voices")


def test_a_film_of_one_voice_shows_the_sentence_it_shares(row, comparisons_of):
    found = find(comparisons_of(*(_hum(row, voice) for voice in _VOICES)))
    comparison = found[0].comparison
    assert scene_words(found, comparison, "neck").startswith("All 4 voices: hum down by")
    own = find(comparisons_of(*(_hum(row, voice) for voice in _VOICES), row(voice="neck")))
    assert scene_words(own, comparison, "neck").startswith("Neck: 5.7 dB quieter")
    assert scene_words(own, comparison, "elsewhere") == NOTHING_SAID
