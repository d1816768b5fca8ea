"""The table of guitars: every cell holds the difference that was made, or says why it does not."""

from __future__ import annotations

import re
from itertools import groupby
from pathlib import Path

import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, quiet, session

from tonecompare.compare import compare_session
from tonecompare.report.charts.draw_all import Album
from tonecompare.report.page.guitars.guitars_section import GuitarsSection, guitars_sections
from tonecompare.session.model import Instrument, Stage, WorkItem

#: Level and hum (dB) and decay (s) of each voice at each stage.
TRUTH = {
    "tern-stock": {"bridge": (-20.0, -60.0, 4.0), "neck": (-22.0, -60.0, 4.0)},
    "tern-light": {"bridge": (-16.0, -60.0, 4.0), "neck": (-22.0, -66.0, 4.0)},
    "tern-full": {"bridge": (-20.0, -50.0, 2.0), "split": (-26.0, -45.0, 4.0)},
    "tern-more": {"split": (-23.0, -45.0, 4.0)},
}
COLUMN = {"Level": 0, "Hum": 1, "Decay": 2}


@pytest.fixture(scope="module")
def section() -> GuitarsSection:
    frames, quiets = [], []
    for stray, (stage, voices) in enumerate(TRUTH.items()):
        for voice, (level, hum, decay) in voices.items():
            sway = {note: 0.1 * stray * (-1) ** k for k, note in enumerate(STRINGS)}
            values = {
                "level_dbfs": {n: [level + s + 0.2 * x for x in FIVE] for n, s in sway.items()},
                "decay_s": {
                    n: [decay * (1.0 + 0.05 * s + 0.01 * x) for x in FIVE] for n, s in sway.items()
                },
            }
            frames.append(plucks(stage, values, voice=voice))
            hums = [hum + 0.2 * x for x in FIVE]
            quiets.append(quiet(stage, {"hum_dbfs": hums}, voice=voice))
    measured = measurements(*frames, quiets=quiets)
    stages = [
        Stage(name, name.title(), Path(name), "tern-stock" if number else None,
              work=(WorkItem("work"),) if number else ())
        for number, name in enumerate(TRUTH)
    ]  # fmt: skip
    guitars = {stage.instrument: Instrument(stage.instrument, model="tern") for stage in stages}
    known = session(*stages, instruments=guitars)
    (made,) = guitars_sections(known, measured, compare_session(known, measured), Album())
    return made


def _truth(quantity: str, voice: str, first: str, stage: str) -> float:
    one, other = (TRUTH[name][voice][COLUMN[quantity]] for name in (first, stage))
    return 100.0 * (other / one - 1.0) if quantity == "Decay" else other - one


def test_every_cell_is_the_difference_that_was_made(section: GuitarsSection) -> None:
    assert section.stages == tuple(TRUTH)
    seen = 0
    for row in section.rows:
        voice = row.voice.lower()
        if row.quantity not in COLUMN:
            continue
        have = [stage for stage in TRUTH if voice in TRUTH[stage]]
        for stage, cell in zip(section.stages, row.cells, strict=True):
            if stage not in have:
                assert cell.words == "no such voice recorded"
            elif stage == have[0]:
                unit = "s" if row.quantity == "Decay" else "dBFS"
                value = abs(TRUTH[stage][voice][COLUMN[row.quantity]])
                assert re.fullmatch(rf"−?{value:g}(\.0+)? {unit}", cell.words)
            else:
                truth = _truth(row.quantity, voice, have[0], stage)
                assert cell.kind == ("no-change" if truth == 0.0 else "likely-audible")
                shown = float(cell.value.split()[0].replace("−", "-"))
                assert shown == pytest.approx(truth, abs=0.6)
                low, high = (float(end.replace("−", "-")) for end in cell.interval.split(" to "))
                assert low - 0.1 <= truth <= high + 0.1
                seen += 1
    # Bridge in two stages, neck in one, split in one; three quantities each.
    assert seen == 12


def test_rows_of_one_voice_stand_together(section: GuitarsSection) -> None:
    voices = [voice for voice, _ in groupby(row.voice for row in section.rows)]
    assert voices == ["Bridge", "Neck", "Split"]


def test_the_chart_and_the_warning_are_there(section: GuitarsSection) -> None:
    assert section.picture is not None
    assert any("differ before anyone touches them" in text for text in section.sentences)
    assert "4.0 dB louder than its sister" in " ".join(section.sentences)
