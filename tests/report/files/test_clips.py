"""Clips: cut where the tables say, matched in loudness, faded, and nothing when there is none."""

from __future__ import annotations

import hashlib
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import soundfile as sf

from tonecompare.measure.model import FileRecord
from tonecompare.quantities.columns import MEASUREMENTS
from tonecompare.report.charts.chart_data import Compared
from tonecompare.report.files.clips import Clips, ClipWriter
from tonecompare.report.sounds.cuts import FADE_IN_S, LEAD_S, excerpt
from tonecompare.report.sounds.loudness import k_weighted_db
from tonecompare.report.words.report_findings import unheard
from tonecompare.session.model import Session

RATE = 48000
VOICE = ("bridge", "magnetic")
COMPARED = Compared("a to b", "a", "b", (), (VOICE,))


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_k_weighting_gives_the_published_anchor(rate):
    # ITU-R BS.1770 Annex 1: a 0 dBFS 997 Hz sine in one channel reads -3.01 LKFS with its offset
    # of -0.691 dB.
    time = np.arange(2 * rate) / rate
    sine = np.sin(2 * np.pi * 997.0 * time)
    assert k_weighted_db(sine, rate) - 0.691 == pytest.approx(-3.01, abs=0.02)


def test_silence_has_no_level():
    assert k_weighted_db(np.zeros(RATE), RATE) == -np.inf


def _note(f0, level, seconds=3.0):
    time = np.arange(round(seconds * RATE)) / RATE
    return level * np.exp(-1.5 * time) * np.sin(2 * np.pi * f0 * time + 0.3)


@pytest.fixture(params=[RATE], ids="{}".format)
def recorded(request, tmp_path):
    """Two stages, two notes; after is half as loud and starts elsewhere in its file.

    The file may say another rate than it was made for; times are then shorter in proportion.
    """
    told, faster = request.param, request.param / RATE
    rows = []
    for stage, level, start in (("a", 0.6, 1.0), ("b", 0.3, 2.5)):
        (tmp_path / stage).mkdir()
        quiet = np.zeros(round(start * RATE))
        samples = np.concatenate([quiet, _note(82.4, level), _note(329.6, level)])
        sf.write(tmp_path / stage / "bridge.wav", samples, told, subtype="PCM_24")
        for pluck, (note, f0) in enumerate((("E2", 82.4), ("E4", 329.6))):
            rows.append(
                {
                    "stage": stage, "voice": "bridge", "output": "magnetic",
                    "file": f"{stage}/bridge.wav", "channel": 1, "pluck": pluck + 1, "note": note,
                    "onset_s": (start + 3.0 * pluck) / faster, "ring_s": 3.0 / faster,
                    "f0_hz": f0 * faster,
                    "level_dbfs": 20.0 * np.log10(level),
                }
            )  # fmt: skip
    plucks = pd.DataFrame(rows).reindex(columns=list(MEASUREMENTS))
    out = tmp_path / "report"
    out.mkdir()
    session = Session("t", tmp_path, {}, ())
    return SimpleNamespace(writer=ClipWriter(session, plucks, out), plucks=plucks, out=out)


def test_clips_are_cut_at_the_onsets_and_as_recorded(recorded):
    found = recorded.writer.voice(COMPARED, VOICE)
    assert found.reason == ""
    assert found.notes == ("E2", "E4")
    clips = found.clips
    before, rate = sf.read(recorded.out / clips[0].href)
    after, _ = sf.read(recorded.out / clips[1].href)
    assert rate == RATE
    assert before.shape == after.shape
    # The same string motion at half the level: 6.02 dB, whatever came before it in the file.
    np.testing.assert_allclose(after, before / 2.0, atol=2.0**-15)
    assert [clip.label for clip in clips[:2]] == ["before, as recorded", "after, as recorded"]


def test_a_take_changed_since_it_was_measured_is_not_played_for_another(recorded, tmp_path):
    files = [
        FileRecord(
            name, hashlib.sha256((tmp_path / name).read_bytes()).hexdigest(), RATE, 1, "PCM_24",
            7.0, name[0], "bridge", 2,
        )
        for name in ("a/bridge.wav", "b/bridge.wav")
    ]  # fmt: skip
    session = Session("t", tmp_path, {}, ())
    writer = ClipWriter(session, recorded.plucks, recorded.out, files)
    assert writer.voice(COMPARED, VOICE).reason == ""
    samples, _ = sf.read(tmp_path / "b" / "bridge.wav")
    sf.write(tmp_path / "b" / "bridge.wav", samples[::-1], RATE, subtype="PCM_24")
    writer = ClipWriter(session, recorded.plucks, recorded.out, files)
    found = writer.voice(COMPARED, VOICE)
    assert found.clips == ()
    assert found.reason == (
        "bridge.wav could not be read again: it was changed after it was measured."
    )


@pytest.mark.parametrize(
    ("listen", "notes"),
    [(("E4",), ("E4",)), (("E4", "E2"), ("E4", "E2")), (("A9",), ("E2", "E4")), ((), ("E2", "E4"))],
)
def test_the_notes_to_hear_are_those_of_the_session(recorded, tmp_path, listen, notes):
    session = Session("t", tmp_path, {}, (), listen=listen)
    found = ClipWriter(session, recorded.plucks, recorded.out).voice(COMPARED, VOICE)
    assert found.notes == notes
    assert len(found.clips[0].spans_s) == len(notes)
    assert unheard(session, SimpleNamespace(plucks=recorded.plucks)) == (
        ("listen in session.toml names A9: no recording has it.",) if listen == ("A9",) else ()
    )


def test_the_louder_side_is_turned_down_and_the_gain_is_told(recorded):
    clips = recorded.writer.voice(COMPARED, VOICE).clips
    assert clips[2].gain_db == pytest.approx(20.0 * np.log10(0.5), abs=0.02)
    assert clips[2].label == "before, turned down by 6.0 dB to match after"
    matched, _ = sf.read(recorded.out / clips[2].href)
    after, _ = sf.read(recorded.out / clips[1].href)
    # Levels of a comparison by ear are to be held within 0.1 dB (Clark 1982).
    assert k_weighted_db(matched, RATE) == pytest.approx(k_weighted_db(after, RATE), abs=0.1)


def test_sides_of_one_level_need_no_matching(recorded):
    same = Compared("a to a", "a", "a", (), (VOICE,))
    found = recorded.writer.voice(same, VOICE)
    assert [clip.label for clip in found.clips] == ["before, as recorded", "after, as recorded"]


def test_fades_start_and_end_at_nothing_and_leave_the_attack_alone():
    samples = np.full(3 * RATE, 0.5)
    piece = excerpt(samples, 1.0, 1.0, RATE)
    assert abs(piece[0]) < 1e-6
    assert abs(piece[-1]) < 1e-6
    assert np.max(np.abs(np.diff(piece))) < 0.01
    at_onset = round(LEAD_S * RATE)
    assert round(FADE_IN_S * RATE) < at_onset
    assert piece[at_onset] == 0.5


def test_a_note_at_the_start_of_a_file_is_cut_from_its_first_sample():
    assert excerpt(np.ones(RATE), 0.0, 0.5, RATE).size == RATE // 2


def test_a_recording_that_is_gone_gives_a_reason_without_its_folder(recorded, tmp_path):
    (tmp_path / "b" / "bridge.wav").unlink()
    found = recorded.writer.voice(COMPARED, VOICE)
    assert found.clips == ()
    assert found.reason.startswith("bridge.wav could not be read again: it ")
    assert str(tmp_path) not in found.reason


def test_no_shared_note_gives_a_reason(recorded):
    plucks = recorded.plucks[recorded.plucks["stage"] == "a"]
    writer = ClipWriter(Session("t", recorded.out, {}, ()), plucks, recorded.out)
    assert writer.voice(COMPARED, VOICE) == Clips(
        reason="The two stages share no note with a measured level."
    )


@pytest.mark.parametrize("recorded", [655_350, 655_360, 768_000], indirect=True)
def test_clips_of_rates_beyond_flac_are_halved(recorded):
    clips = recorded.writer.voice(COMPARED, VOICE).clips
    rates = {sf.info(recorded.out / clip.href).samplerate for clip in clips}
    assert rates <= {655_350, 327_680, 384_000}
    for clip in clips:
        length_s = sf.info(recorded.out / clip.href).duration
        assert length_s == pytest.approx(clip.spans_s[-1][1], abs=1e-4)
