"""Phrases on one time axis: what was played louder, later or otherwise is known beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.played.passage_frames import HOP_S, PassageFrames
from tonecompare.measure.played.phrase_curves import phrase_curve
from tonecompare.measure.played.same_music import align

#: Pitch class of each note of the phrase and frames it lasts.
NOTES = ((0, 12), (4, 12), (7, 12), (2, 12), (9, 12), (5, 12))


def passage(notes=NOTES, *, level_db=-20.0, centroid_hz=1000.0, lengths=1.0, wrong=None):
    """Frames of a made phrase: each note falls by 6 dB, all else is the same throughout."""
    chroma, level, events = [], [], []
    for number, (pitch_class, frames) in enumerate(notes):
        count = round(frames * lengths)
        column = np.full(12, 0.05)
        column[(pitch_class + 6) % 12 if number == wrong else pitch_class] = 1.0
        events.append(len(level) * HOP_S)
        chroma += [column / np.linalg.norm(column)] * count
        level += list(level_db - np.linspace(0.0, 6.0, count))
    power = np.zeros((8, len(level)))
    power[3] = 10.0 ** (np.array(level) / 10.0)
    onset = np.zeros(len(level))
    onset[[round(at / HOP_S) for at in events]] = 1.0
    magnitude = np.ones(len(level))
    return PassageFrames(
        np.array(chroma).T, onset, power, np.full(8, 1e-9), centroid_hz * magnitude, magnitude,
        tuple(events), np.full((len(events), 2), np.nan),
    )  # fmt: skip


def test_a_phrase_played_slower_lies_on_the_first_one_note_by_note():
    first = passage()
    slower = passage(level_db=-17.0, centroid_hz=1500.0, lengths=1.25)
    mine = phrase_curve(first, first, align(first, first))
    theirs = phrase_curve(first, slower, align(first, slower))
    np.testing.assert_array_equal(mine.time_s, theirs.time_s)
    both = np.isfinite(mine.level_dbfs) & np.isfinite(theirs.level_dbfs)
    assert both.mean() > 0.9
    # 3 dB louder at every moment; a quarter slower, so the way down within a note is the same.
    np.testing.assert_allclose((theirs.level_dbfs - mine.level_dbfs)[both], 3.0, atol=1.0)
    np.testing.assert_allclose(theirs.centroid_hz[both], 1500.0)
    # Mean square 10^-2 is RMS -20 dB re 1, -17 dBFS after AES17.
    assert mine.level_dbfs[0] == pytest.approx(-16.99, abs=0.01)
    known = np.isfinite(theirs.own_s)
    slope = np.polyfit(theirs.time_s[known], theirs.own_s[known], 1)[0]
    assert slope == pytest.approx(1.25, abs=0.05)


def test_where_another_note_was_played_there_is_a_gap():
    first, other = passage(), passage(wrong=2)
    curve = phrase_curve(first, other, align(first, other))
    inside = (curve.time_s >= first.events_s[2] + HOP_S) & (
        curve.time_s < first.events_s[3] - HOP_S
    )
    assert np.isnan(curve.level_dbfs[inside]).all()
    outside = curve.time_s > first.events_s[4]
    assert np.isfinite(curve.level_dbfs[outside]).mean() > 0.9


def test_what_does_not_stand_over_the_quiet_is_not_shown():
    first, faint = passage(), passage(level_db=-84.0)
    curve = phrase_curve(first, faint, align(first, faint))
    assert np.isnan(curve.level_dbfs).all()
