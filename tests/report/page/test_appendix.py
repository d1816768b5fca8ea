"""The end of the page."""

from __future__ import annotations

from dataclasses import replace

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.difference.difference_table import thresholds_table
from tonecompare.language import in_language
from tonecompare.report.page.appendix import (
    left_out_views,
    notice_views,
    problem_views,
    setting_views,
    threshold_views,
    without_file,
)
from tonecompare.session.model import LeftOut


def test_a_remark_on_many_files_is_made_once_and_the_files_are_counted(story):
    files = tuple(
        replace(story.measurements.files[0], file=f"a/{n}.wav", problems=(f"a/{n}.wav: no quiet.",))
        for n in range(9)
    )
    (view,) = problem_views(replace(story.measurements, files=files))
    assert view.sentence == "No quiet."
    assert view.files == tuple(f"a/{n}.wav" for n in range(6))
    assert view.more == 3


def test_files_left_out_for_one_reason_stand_in_one_row():
    left_out = [LeftOut(f"a/{n}.m4a", "Cannot be read.") for n in range(7)]
    (view,) = left_out_views([*left_out[:4], *left_out[4:]])
    assert (view.files[0], view.sentence, view.more) == ("a/0.m4a", "Cannot be read.", 1)


def test_what_is_to_be_said_of_the_session_stands_among_the_remarks(story):
    session = replace(story.session, remarks=("[worth] has no effect.",))
    assert [view.sentence for view in notice_views(session)] == ["[worth] has no effect."]


def test_a_file_name_is_dropped_only_from_the_front():
    assert without_file("a/b.wav: is empty.", "a/b.wav") == "Is empty."
    assert without_file("/x/a/b.wav: is empty.", "a/b.wav") == "Is empty."
    assert without_file("/x/a: b.wav: is empty.", "a: b.wav") == "Is empty."
    assert without_file("too short: 0.1 s", "a/b.wav") == "Too short: 0.1 s"


def test_thresholds_in_use_with_their_sources():
    table = thresholds_table({"level": 1.5})
    views = threshold_views(Comparisons(no_rows(), tables={"thresholds": table}))
    limits = {view.label: view.limit for view in views}
    assert limits["Level"] == "1.5 dB"
    # Tolonen & Järveläinen 2000: 0.75 to 1.40 of the decay time goes unheard.
    assert limits["Decay"] == "−25 to +40 %"
    assert all(view.source and "memory" not in view.source for view in views)
    assert threshold_views(Comparisons(no_rows())) == ()


def test_settings_that_change_numbers(story):
    session = replace(story.session, mains_hz=60.0, hearing_thresholds={"level": 1.5})
    assert setting_views(session) == (
        ("Mains frequency", "60.00 Hz"),
        ("Tuning reference", "440.0 Hz"),
        ("Hearing thresholds changed", "level 1.5"),
    )
    assert setting_views(story.session)[0][1] == "found in each recording"


def test_a_changed_threshold_has_the_decimal_mark_of_the_language(story):
    session = replace(story.session, hearing_thresholds={"level": 0.5})
    with in_language("de"):
        assert "level 0,5" in dict(setting_views(session)).values()
