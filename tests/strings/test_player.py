"""The player varies as much as measured on real takes, and reproducibly."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.strings.instruments import note_hz, note_name


def test_spread_from_pluck_to_pluck_is_that_of_real_takes():
    # Real takes, one player (CC0 and MIT sets): level 0.5–0.7 dB, centroid 20–110 cents,
    # T20 3–7 %, pitch 0.3–0.6 cents (median SD).
    rng = np.random.default_rng(11)
    repeats = 12
    plucks = st.vary_plucks(
        st.plucks_in_turn(
            [(s, 0) for s in (5, 3, 1)],
            spacing_s=0.7,
            repeats=repeats,
            damp_before_s=None,
            start_s=0.5,
        ),
        rng=rng,
    )
    voice = st.VoiceSpec("bridge", (st.Channel("magnetic", st.humbucker(45.0)),))
    rendered = st.render_recording(
        st.standard_instrument(), voice, plucks, rng=rng, rate_hz=44100.0, subtype="FLOAT"
    )
    spread = []
    for string in (1, 3, 5):
        outputs = [p.outputs[0] for p in rendered.truth.plucks if p.string == string]
        assert len(outputs) == repeats
        spread.append(
            [
                np.std([o.level_dbfs for o in outputs]),
                np.std([1200 * np.log2(o.centroid_hz()) for o in outputs]),
                100 * np.std([np.log(o.decay_s()) for o in outputs]),
                np.std([1200 * np.log2(o.f0_hz) for o in outputs]),
            ]
        )
    level_db, centroid_cents, decay_percent, pitch_cents = np.median(spread, axis=0)
    assert 0.45 < level_db < 0.75
    assert 20 < centroid_cents < 110
    assert 3 < decay_percent < 7
    assert 0.3 < pitch_cents < 0.6


def test_same_seed_same_plucks():
    plain = st.plucks_in_turn([(6, 0), (5, 3)], repeats=2)
    first, again = (st.vary_plucks(plain, rng=np.random.default_rng(3)) for _ in range(2))
    other = st.vary_plucks(plain, rng=np.random.default_rng(4))
    assert first == again
    assert first != other


def test_plucks_in_turn():
    plucks = st.plucks_in_turn(
        [(6, 0), (5, 3)], start_s=2.0, spacing_s=1.5, repeats=2, damp_before_s=0.3
    )
    assert [(p.time_s, p.string, p.fret) for p in plucks] == [
        (2.0, 6, 0),
        (3.5, 6, 0),
        (5.0, 5, 3),
        (6.5, 5, 3),
    ]
    assert plucks[0].damp_s == pytest.approx(1.2)


def test_standard_tuning():
    # ISO 16 (A4 = 440 Hz), equal temperament.
    hz = [82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276]
    names = ["E2", "A2", "D3", "G3", "B3", "E4"]
    guitar = st.standard_instrument()
    for number, expected_hz, name in zip((6, 5, 4, 3, 2, 1), hz, names, strict=True):
        string = guitar.string(number)
        h1 = string.open_hz * np.sqrt(1 + string.inharmonicity)
        assert h1 == pytest.approx(expected_hz, abs=1e-4)
        assert note_name(h1) == name
    assert note_hz(69) == 440.0
    assert note_name(440 * 2 ** (1 / 12)) == "A#4"


@pytest.mark.parametrize(("hand", "mm"), [(st.STEADY_HAND, 1.5), (st.LOOSE_HAND, 4.0)])
def test_named_hands_scatter_as_their_names_say(hand, mm):
    meant = [st.PluckSpec(0.0, 1)] * 3000
    played = st.vary_plucks(meant, rng=np.random.default_rng(5), spread=hand)
    # Draws are clipped at three standard deviations, which takes 0.7 % off.
    assert np.std([pluck.position_mm for pluck in played]) == pytest.approx(mm, rel=0.05)
    assert np.std([pluck.strength_db for pluck in played]) == pytest.approx(0.7, rel=0.05)
