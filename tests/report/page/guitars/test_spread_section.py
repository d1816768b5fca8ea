"""The tables of sessions without work and of unmodified guitars."""

from __future__ import annotations

import pandas as pd

from tonecompare.report.page.guitars.spread_section import spread_sections


def _session(**changes):
    return {
        "voice": "bridge", "output": "magnetic", "quantity": "level_dbfs", "unit": "dB",
        "n_pairs": 1, "drift": -0.77, "drift_sd": 0.77, **changes,
    }  # fmt: skip


def _guitar(**changes):
    return {
        "stage": "heron", "voice": "bridge", "output": "magnetic", "quantity": "level_dbfs",
        "unit": "dB", "n_guitars": 3, "n_notes": 6, "guitars_sd": 0.5, "difference": 4.0,
        "expected_low": -2.5, "expected_high": 2.5, "outside": True, **changes,
    }  # fmt: skip


def test_drift_of_sessions():
    table = pd.DataFrame(
        [
            _session(),
            _session(quantity="decay_s", unit="%", drift=None),
            _session(quantity="centroid_hz", unit="cents"),
            _session(quantity="tristimulus_1", unit="share"),
        ]
    )
    (section,) = spread_sections({"sessions": table})
    assert section.columns == ("Level", "Decay")
    assert section.rows[0].title == "Bridge"
    assert section.rows[0].cells == ("−0.8 dB (n = 1)", "not measured")


def test_a_guitar_outside_the_unmodified_ones():
    (section,) = spread_sections({"guitars": pd.DataFrame([_guitar()])})
    assert section.rows[0].title == "heron: Bridge"
    assert section.rows[0].cells == (
        "+4.0 dB (−2.5 to +2.5): outside, 1.6 times as far (n = 3 guitars)",
    )


def test_nothing_to_show_shows_nothing():
    assert spread_sections({}) == ()
    assert spread_sections({"sessions": pd.DataFrame(), "guitars": pd.DataFrame()}) == ()
