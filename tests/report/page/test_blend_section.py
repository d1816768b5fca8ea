"""The section on two outputs: sentences, charts and clips of a synthetic two-channel voice."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import soundfile as sf
from two_outputs import Wiring, open_strings

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.model import BenchSign, Note
from tonecompare.compare.response.acoustic_likeness import likeness_of_session
from tonecompare.compare.response.recordings_of_blends import recordings_of_blends
from tonecompare.measure.flags import Flag, words
from tonecompare.measure.outputs.band_powers import output_bands
from tonecompare.measure.outputs.measure_outputs import measure_blend
from tonecompare.measure.outputs.recorded_blend import ratio_of_other_plucks
from tonecompare.measure.outputs.results import BlendPair, PiezoFinding
from tonecompare.report.charts.blend import blend_map_chart
from tonecompare.report.charts.canvas.svg import svg_of
from tonecompare.report.charts.draw_all import Album
from tonecompare.report.files.clips import ClipWriter
from tonecompare.report.page.blend_section import CLIP_RATIOS, blend_section
from tonecompare.report.sounds.loudness import k_weighted_db
from tonecompare.report.words.blend_words import (
    delay_sentence,
    polarity_sentence,
    recorded_sentence,
)
from tonecompare.report.words.exchanged_outputs import marked_blend
from tonecompare.report.words.findings import find

WIRED = Wiring(delay_s=400e-6, polarity=-1, low_pass_hz=4861.0, high_pass_hz=60.0)


@pytest.fixture(scope="module")
def pairs() -> list[BlendPair]:
    return open_strings(
        WIRED, rng=np.random.default_rng(1), strings=(6, 4, 2, 1), length_s=0.7, snr_db=60.0
    )


@pytest.fixture(scope="module")
def measured(pairs: list[BlendPair], tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A stage with magnetic and piezo of four strings, a recorded blend and a reference."""
    root = tmp_path_factory.mktemp("session")
    blend = measure_blend(pairs)
    both = np.concatenate([[p.magnetic for p in pairs], [p.piezo for p in pairs]])
    channels = both.reshape(2, -1)
    (root / "wood").mkdir()
    sf.write(root / "wood" / "both.wav", channels.T, 48000, subtype="FLOAT")
    size, rate = pairs[0].magnetic.size, pairs[0].rate_hz
    rows = [
        {"stage": "wood", "voice": "both", "output": output, "file": "wood/both.wav",
         "channel": channel, "pluck": index + 1, "note": pair.note, "f0_hz": pair.f0_hz,
         "onset_s": (index * size + pair.onset_index) / rate, "ring_s": 0.68,
         "level_dbfs": -20.0, "attack_ms": 3.0, "decay_s": 2.0}
        for index, pair in enumerate(pairs)
        for channel, output in ((1, "magnetic"), (2, "piezo"))
    ]  # fmt: skip
    table = pd.DataFrame([{**row.cells(), "stage": "wood", "voice": "both"} for row in blend.rows])
    mixed = {
        pair.note: output_bands(0.7 * pair.magnetic + 0.3 * pair.piezo, None, pair)
        for pair in pairs
    }
    return SimpleNamespace(
        root=root, plucks=pd.DataFrame(rows), blend=table, blends={("wood", "both"): blend},
        bands={("wood", "mix", "blend"): mixed, ("wood", "acoustic", "magnetic"): mixed},
    )  # fmt: skip


def _compared(measured: Any, *signs: BenchSign) -> Comparisons:
    """What comparing finds of the two outputs, and these bench signs."""
    return Comparisons(
        pd.DataFrame(),
        bench=signs,
        likenesses=likeness_of_session(measured),
        recordings_of_blends=recordings_of_blends(measured),
    )


def test_the_section_says_what_was_measured(measured: Any) -> None:
    album = Album()
    section = blend_section(measured, _compared(measured), album)
    assert section is not None
    (row,) = section.rows
    assert row.cells[1] == "opposite"
    (voice,) = section.voices
    said = " ".join(voice.sentences)
    assert "opposite polarity: the electronics invert one of them (4 notes)" in said
    fuller = measured.blends["wood", "both"].advice.fuller_polarity
    assert row.cells[-1] == {1: "left as it is", -1: "one is inverted", None: "either way"}[fuller]
    # Right behind which blend is fuller, how that goes with the polarity.
    where = next(i for i, each in enumerate(voice.sentences) if "blend is fuller" in each)
    assert voice.sentences[where + 1] == polarity_sentence(-1, fuller)
    assert "comes 40" in said or "comes 39" in said
    assert "The recording Mix holds a blend of 30" in said
    assert "Nearest to acoustic comes the blend of 30 % piezo" in said
    assert [picture.name for picture in voice.pictures] == [
        "wood-both-blend-map", "wood-both-acoustic-likeness",
    ]  # fmt: skip
    assert voice.clips.clips == ()
    assert "quarter period" in section.sentences[0]


def test_clips_are_of_one_loudness_and_of_the_ratio_they_say(measured: Any, tmp_path: Any) -> None:
    writer = ClipWriter(SimpleNamespace(root=measured.root, listen=()), measured.plucks, tmp_path)  # type: ignore[arg-type]
    section = blend_section(measured, _compared(measured), Album(), writer)
    assert section is not None
    clips = section.voices[0].clips
    assert len(clips.clips) == len(CLIP_RATIOS) + 1
    assert clips.notes == ("E2", "E4")
    levels = []
    sounds = []
    for clip in clips.clips:
        samples, rate = sf.read(tmp_path / clip.href)
        levels.append(k_weighted_db(samples, rate))
        sounds.append(samples / 10 ** (clip.gain_db / 20))
        assert clip.gain_db <= 0.0
    assert np.ptp(levels) < 0.05
    # 25 % is three quarters of the first and one quarter of the last, up to the 16 bit of a file.
    sign = measured.blends["wood", "both"].advice.fuller_polarity or 1
    full = sign * sounds[4]
    assert sounds[1] == pytest.approx(0.75 * sounds[0] + sign * 0.25 * full, abs=3e-4)
    assert sounds[5] == pytest.approx(0.5 * sounds[0] - sign * 0.5 * full, abs=3e-4)


def test_no_two_channel_voice_no_section(measured: Any) -> None:
    empty = SimpleNamespace(blend=measured.blend.iloc[:0])
    assert blend_section(empty, Comparisons(pd.DataFrame()), Album()) is None  # type: ignore[arg-type]


def test_what_is_not_determinable_is_said(measured: Any) -> None:
    delay = measured.blends["wood", "both"].delay
    unknown = replace(delay, polarity=None, delay_s=None, reason="only one string")
    assert delay_sentence(unknown).endswith("not determinable: only one string.")
    half = replace(delay, delay_s=None, polarity=1, reason="only one string")
    assert "the same polarity; their delay is not determinable" in delay_sentence(half)
    none = replace(delay, delay_s=1e-6, delay_se_s=2e-6)
    assert "No electronic delay shows" in delay_sentence(none)
    ahead = replace(delay, delay_s=-200e-6, delay_se_s=2e-6)
    assert "200 µs earlier than the magnetic one (± 2 µs)" in delay_sentence(ahead)
    sure = replace(delay, delay_s=-200e-6, delay_se_s=0.4e-6)
    assert "200 µs earlier than the magnetic one (to better than 1 µs)" in delay_sentence(sure)


def test_polarity_and_the_fuller_blend_are_said_together() -> None:
    assert polarity_sentence(1, 1) == ""
    assert polarity_sentence(None, 1) == ""
    assert polarity_sentence(-1, None) == ""
    stay = polarity_sentence(-1, 1)
    assert "opposite polarity is no fault" in stay
    assert stay.endswith("leave it.")
    assert polarity_sentence(1, -1).endswith("invert either output.")
    assert "same polarity and the fuller blend at once" in polarity_sentence(-1, -1)


def test_a_recorded_blend_without_shared_notes_is_said(measured: Any) -> None:
    found = ratio_of_other_plucks({}, measured.blends["wood", "both"].by_note)
    assert "could not be worked out: no note of the blend" in recorded_sentence(found, "Mix")


def test_the_map_is_the_same_from_run_to_run(measured: Any) -> None:
    found = measured.blends["wood", "both"].map
    one, other = (svg_of(blend_map_chart(found, title="Both, wood"), "map") for _ in range(2))
    assert one == other


def test_a_map_without_bands_says_so(measured: Any) -> None:
    found = measured.blends["wood", "both"].map
    gone = replace(found, interaction_db=np.full_like(found.interaction_db, np.nan))
    figure = blend_map_chart(gone, title="Both")
    texts = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert all("No band stands above" in text.replace("\n", " ") for text in texts)
    assert len(texts) == 2


def test_remarks_are_words_not_flags(measured: Any) -> None:
    table = measured.blend.copy()
    flags = words("polarity-not-determinable", "delay-not-determinable")
    table["flags"] = [flags] * len(table)
    section = blend_section(replace_blend(measured, table), _compared(measured), Album())
    assert section is not None
    assert {row.flags for row in section.rows} == {
        "polarity not determinable, delay not determinable"
    }


def replace_blend(measured: Any, table: pd.DataFrame) -> Any:
    """The same measurements with another blend table."""
    return SimpleNamespace(**{**vars(measured), "blend": table})


def _sign(kind: str, voice: str = "both", *data: object) -> BenchSign:
    return BenchSign("wood", voice, "piezo", kind, "x", None, "", None, data)


def test_of_exchanged_channels_nothing_is_said_that_rests_on_which_is_which(measured: Any) -> None:
    signs = (_sign("outputs"),)
    section = blend_section(measured, _compared(measured, *signs), Album())
    assert section is not None
    (row,) = section.rows
    (plain,) = blend_section(measured, _compared(measured), Album()).rows  # type: ignore[union-attr]
    out = "left out"
    assert row.cells == (out, out, plain.cells[2], out, out, out, out)
    assert row.flags == "outputs exchanged"
    (voice,) = section.voices
    (said,) = voice.sentences
    assert "look exchanged" in said
    assert 'outputs = ["piezo", "magnetic"]' in said
    assert (voice.pictures, voice.clips.clips) == ((), ())
    other = blend_section(measured, _compared(measured, _sign("outputs", "other")), Album())
    assert other is not None
    assert len(other.voices[0].sentences) > 3


def test_rows_of_exchanged_channels_carry_a_flag_in_blend_csv(measured: Any) -> None:
    table = pd.concat([measured.blend, measured.blend.assign(voice="other")], ignore_index=True)
    table.at[0, "flags"] = words("below-quiet")
    marked = marked_blend(table, (_sign("outputs"),))
    of = marked["voice"] == "both"
    assert {flags[-1:] for flags in marked.loc[of, "flags"]} == {words("outputs-exchanged")}
    assert marked["flags"][0] == words("below-quiet", "outputs-exchanged")
    assert not any(Flag("outputs-exchanged") in flags for flags in marked.loc[~of, "flags"])
    assert table["flags"][0] == words("below-quiet")


def test_exchanged_channels_stand_among_the_findings() -> None:
    bench = (_sign("outputs"),)
    notes = {str(n): (Note("not-measured", (str(n),)),) for n in range(5)}
    told = find(Comparisons(no_rows(), notes=notes, bench=bench))
    (one,) = [finding for finding in told if "look exchanged" in finding.text]
    assert one.text.startswith("Both at wood: ")
    assert "session.toml" in one.text


def test_a_bench_sign_is_pointed_to_and_not_said_again(measured: Any) -> None:
    finding = PiezoFinding("string-balance", "string 3", -6.2, "dB", 0.4)
    said = "On the piezo output string 3 is 6.2 dB"
    blend = replace(measured.blends["wood", "both"], findings=(finding,))
    told = SimpleNamespace(**vars(measured) | {"blends": {("wood", "both"): blend}})
    (alone,) = blend_section(told, _compared(measured), Album()).voices  # type: ignore[arg-type, union-attr]
    assert any(text.startswith(said) for text in alone.sentences)
    assert alone.at_bench == ""
    signs = (_sign("piezo", "both", finding), _sign("piezo", "other", finding))
    (beside,) = blend_section(told, _compared(measured, *signs), Album()).voices  # type: ignore[arg-type, union-attr]
    assert not any(text.startswith(said) for text in beside.sentences)
    # The same number on another voice does not hide it here.
    (both,) = blend_section(told, _compared(measured, *signs[1:]), Album()).voices  # type: ignore[arg-type, union-attr]
    assert any(text.startswith(said) for text in both.sentences)
    assert beside.at_bench == "1 more finding on this voice stands under"
