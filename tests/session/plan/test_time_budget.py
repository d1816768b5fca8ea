"""What fits into the minutes there are."""

from __future__ import annotations

import pytest

from tonecompare.errors import InputError
from tonecompare.session import PlanOptions
from tonecompare.session.plan.time_budget import stage_minutes, within_minutes


def plucks(options):
    return (len(options.strings) or len(options.tuning)) * len(options.frets) * options.repeats


@pytest.mark.parametrize("minutes", [10, 15, 22, 30, 45, 90])
@pytest.mark.parametrize("layout", ["one", "three-way", ("a", "b", "c", "d", "e", "f", "g")])
@pytest.mark.parametrize("frets", [(0,), (0, 5, 12)])
def test_what_is_chosen_fits(minutes, layout, frets):
    voices = {"one": 1, "three-way": 3}.get(layout if isinstance(layout, str) else "", 7)
    try:
        chosen = within_minutes(PlanOptions(layout=layout, frets=frets), minutes)
    except InputError:
        # By hand: each of voices + 1 recordings takes a minute and 9 s a pluck.
        assert (voices + 1) * (60 + 2 * len(frets) * 9) > minutes * 60
        return
    assert (voices + 1) * (60 + plucks(chosen) * 9) <= minutes * 60
    assert stage_minutes(voices, plucks(chosen)) <= minutes


def test_a_smaller_change_that_matters_takes_more_plucks():
    easy = within_minutes(PlanOptions(layout="one", smallest_changes={"level_dbfs": 3.0}), 60)
    hard = within_minutes(PlanOptions(layout="one", smallest_changes={"level_dbfs": 0.4}), 60)
    assert plucks(easy) < plucks(hard)


def test_with_little_time_low_middle_and_high_strings_stay():
    chosen = within_minutes(PlanOptions(layout="three-way"), 8.5)
    assert chosen.strings == (6, 4, 1)
    assert within_minutes(PlanOptions(layout="three-way"), 7).strings == (6,)


def test_nothing_fits_is_told_with_the_least():
    with pytest.raises(InputError, match="at least 5 minutes a stage"):
        within_minutes(PlanOptions(layout="three-way"), 3)


@pytest.mark.parametrize(
    ("minutes", "voices", "strings", "repeats"),
    [(10, 1, 6, 4), (10, 3, 5, 2), (20, 1, 6, 5), (20, 3, 6, 4), (20, 9, 3, 2), (30, 3, 6, 5),
     (30, 9, 6, 2)],
)  # fmt: skip
def test_the_table_of_the_method(minutes, voices, strings, repeats):
    chosen = within_minutes(PlanOptions(layout=tuple("abcdefghi"[:voices])), minutes)
    assert (len(chosen.strings) or 6, chosen.repeats) == (strings, repeats)
