"""Charts of two outputs, of the response and of worth; and that saving keeps what they need."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from two_outputs import Wiring, open_strings

import tonecompare as tc
from tonecompare.compare.model import Response
from tonecompare.compare.response.acoustic_likeness import likeness_of_session
from tonecompare.compare.response.recordings_of_blends import recordings_of_blends
from tonecompare.compare.worth.work_steps import FAMILIES, Distance, Step
from tonecompare.errors import InputError
from tonecompare.measure.model import PhraseCurve
from tonecompare.measure.outputs.measure_outputs import measure_blend

WIRED = Wiring(delay_s=400e-6, polarity=-1, low_pass_hz=4861.0, high_pass_hz=60.0)


@pytest.fixture(scope="module")
def full(result, tmp_path_factory):
    """The comparison with two outputs, a response and a step of work added; saved and loaded."""
    blend = measure_blend(
        open_strings(
            WIRED, rng=np.random.default_rng(1), strings=(6, 4, 2, 1), length_s=0.7, snr_db=60.0
        )
    )
    hz = 80.0 * 2.0 ** (np.arange(30) / 5.0)
    response = Response(
        "before to after", "neck", "magnetic", hz, -6.0 + 0 * hz, -7.0 + 0 * hz, -5.0 + 0 * hz, 6
    )
    moved = tuple(Distance(name, 2.0, 1.5, 2.5, 1) for name in FAMILIES)
    step = Step(
        stage="after", instrument="heron", stock="before", before="before", work=("rewound",),
        parts_cost=35.0, hours=3.0, money=None, total_money=None, total_hours=3.0,
        from_stock=moved, from_before=moved, new_voices=(), shared_voices=("neck",), ratings={},
        confounds=(),
    )  # fmt: skip
    bands = {("before", "acoustic", "magnetic"): _reference(blend)}
    measured = replace(
        result.measurements,
        blends={("before", "both"): blend},
        bands=bands,
        phrases=dict.fromkeys(result.measurements.curves, _phrase()),
    )
    compared = replace(
        result.comparisons,
        responses=(response,),
        likenesses=likeness_of_session(measured),
        recordings_of_blends=recordings_of_blends(
            replace(measured, bands={("before", "mix", "blend"): _reference(blend)})
        ),
    )
    made = replace(
        result,
        measurements=measured,
        comparisons=compared,
        worth=(step,),
    )
    return tc.load(made.save(tmp_path_factory.mktemp("full") / "heron.tc"))


def _phrase() -> PhraseCurve:
    """Return a phrase of two notes, each falling by 10 dB."""
    time_s = 0.02 * np.arange(100)
    fall_db = np.tile(np.linspace(0.0, 10.0, 50), 2)
    return PhraseCurve(
        time_s, -30.0 - fall_db, 900.0 - 20.0 * fall_db, (0.0, 1.0), time_s, 0.0
    )  # fmt: skip


def _reference(blend):
    """Return a reference that is the magnetic output itself, note by note."""
    return {note: bands.magnetic for note, bands in blend.by_note.items()}


def test_what_two_outputs_are_made_of_is_saved(full):
    (one,) = full.comparisons.recordings_of_blends
    # The recording is the magnetic output itself: ratio 0.
    assert (one.stage, one.voice, one.recording, one.blend.ratio) == ("before", "both", "mix", 0.0)


@pytest.mark.parametrize(
    "draw",
    [
        lambda plot: plot.phrase("neck"),
        lambda plot: plot.response("neck"),
        lambda plot: plot.blend("both"),
        lambda plot: plot.likeness("both"),
        lambda plot: plot.worth(axis="hours"),
        lambda plot: plot.voices(stage="before"),
    ],
    ids=["phrase", "response", "blend", "likeness", "worth", "voices"],
)
def test_a_chart_is_drawn_from_what_was_saved(full, draw):
    assert isinstance(draw(full.plot), Figure)


@pytest.mark.parametrize(
    ("draw", "said"),
    [
        (lambda plot: plot.response("bridge"), "no response was worked out"),
        (lambda plot: plot.blend("both", stage="after"), 'No stage .* "after".*before'),
        (lambda plot: plot.worth(), "money spent is not known"),
        (lambda plot: plot.worth(axis="pride"), '"money" or "hours"'),
    ],
)
def test_a_chart_that_cannot_be_drawn_says_why(full, draw, said):
    with pytest.raises(InputError, match=said):
        draw(full.plot)


def test_where_no_riff_was_played_no_phrase_is_drawn(result):
    with pytest.raises(InputError, match="no riff was played at both stages"):
        result.plot.phrase("neck")


def test_every_chart_there_is_is_named(result):
    made = {name for name in dir(type(result.plot)) if not name.startswith("_")}
    fields = {"session", "measurements", "comparisons", "worth_steps"}
    named = set(
        repr(result.plot).removeprefix("Plots: ").replace(" (each of a voice)", "").split(", ")
    )
    assert named == made - fields
