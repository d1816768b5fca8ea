"""The section of voices side by side: every voice in every table, nothing unmeasured made up."""

from __future__ import annotations

from voices_made import Made, stage_of

from tonecompare.report.charts.draw_all import Album
from tonecompare.report.page.voices import voices_section

_MADE = {
    "neck": Made(level_db=-18.0),
    "neck-split": Made(level_db=-24.0, hum_db=-60.0),
    "bridge": Made(level_db=-20.0),
}


def test_every_voice_stands_in_the_first_table_with_the_loudest_in_its_own_units():
    section = voices_section([stage_of(_MADE)], (), Album())
    (stage,) = section.stages
    first = stage.tables[0]
    assert [row.title for row in first.rows] == ["Bridge", "Neck", "Neck (split)"]
    level, brightness, *_ = first.rows[1].cells
    assert level.value == "−18.0 dBFS"
    assert brightness.value == "not measured"
    assert first.rows[2].cells[0].value == "−6.0 dB"
    assert [table.heading for table in stage.tables] == [
        "Against Neck", "Octave bands against Neck", "Split against full",
        "Split against full, band by band", "Neighbouring positions",
    ]  # fmt: skip


def test_a_single_stage_shows_its_tables_and_several_fold_them():
    one = voices_section([stage_of(_MADE)], (), Album())
    two = voices_section(
        [stage_of(_MADE, stage="stock"), stage_of(_MADE, stage="later")], (), Album()
    )
    assert not one.several
    assert two.several
    assert voices_section((), (), Album()) is None
