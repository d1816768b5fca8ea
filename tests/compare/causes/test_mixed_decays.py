"""A pick that moved changes the mix of partials, and with it the decay of the whole sound."""

from __future__ import annotations

import numpy as np
import pytest
from difference_rows_made import made_rows

from tonecompare.compare.causes.hand.picking_place import mixed_decays
from tonecompare.compare.causes.rows_to_explain import VoiceRows, voices_of


def voice(whole: float, partials: float, *, verdict: str = "measurable", n: int = 12) -> VoiceRows:
    whole_ratio, ratio = (float(np.log1p(percent / 100.0)) for percent in (whole, partials))
    columns = {f"decay_h{partial:02d}_s": ratio for partial in range(1, n + 1)}
    (made,) = voices_of(made_rows({"decay_s": whole_ratio, **columns}, verdict=verdict))
    return made


@pytest.mark.parametrize(
    ("whole", "partials", "explained"),
    [
        (-4.0, -1.0, True),  # the partials ring almost as before
        (3.0, 1.0, True),
        (-22.0, -23.0, False),  # they all ring shorter: the string, not the mix
        (-4.0, -3.5, False),
    ],
)
def test_the_mix_explains_what_the_partials_lack(
    whole: float, partials: float, explained: bool
) -> None:
    assert mixed_decays(voice(whole, partials)) == (("decay_s",) if explained else ())


def test_only_claims_are_explained_and_few_partials_tell_nothing() -> None:
    assert mixed_decays(voice(-4.0, -1.0, verdict="undecided")) == ()
    assert mixed_decays(voice(-4.0, -1.0, n=3)) == ()
