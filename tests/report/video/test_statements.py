"""What the pictures for screens say: money as money, frequencies with two digits."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tonecompare.compare.worth.work_steps import Distance, Step
from tonecompare.report.video.statements import statements
from tonecompare.session.model import Worth


def _step(total_money):
    moved = (Distance("shape", 0.42, 0.1, 1.0, 2),)
    return Step(
        "heron-rewound", "heron", "heron-stock", "heron-stock", ("rewound",), 33.0, 3.5,
        total_money, total_money, 3.5, moved, moved, (), ("bridge",), {}, (),
    )  # fmt: skip


@pytest.mark.parametrize(("money", "number"), [(190.5, "190.50 EUR"), (None, "3.5 h")])
def test_a_step_of_work_says_what_it_cost_and_what_one_means(story, money, number):
    session = replace(story.session, worth=Worth("EUR"))
    made = statements(session, story.measurements, story.comparisons, worth=(_step(money),))
    (cost,) = [one for one in made if one.kind == "cost"]
    assert cost.number.replace("\N{NO-BREAK SPACE}", " ") == number
    assert cost.sure == "heron-rewound: tone changed by 0.4, where 1 is just audible"


def test_frequencies_have_two_digits(story):
    made = statements(story.session, story.measurements, story.comparisons)
    told = [one.sure for one in made if one.kind == "response" and one.number]
    assert told
    for sure in told:
        assert re.match(
            r"at (\d\d0? Hz|\d00 Hz|\d(\.[1-9])? kHz)[;,]", sure.replace("\N{NO-BREAK SPACE}", " ")
        )
