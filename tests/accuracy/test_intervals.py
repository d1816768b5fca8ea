"""A small part of the audit of stated uncertainties (``python tests/accuracy/intervals.py``)."""

from __future__ import annotations

import numpy as np
import pytest
from accuracy_errors import Error
from accuracy_takes import at_ratios, layouts
from coverage_plucks import take_errors
from coverage_quiets import quiet_errors
from coverage_table import Share, family_of, shares_of, text

NOTES = ((6, 0), (5, 0), (3, 5), (1, 12))


@pytest.fixture(scope="module")
def errors(tmp_path_factory: pytest.TempPathFactory) -> list[Error]:
    out: list[Error] = []
    for kind, number in (("ideal", 1), ("plucked", 0)):
        rng = np.random.default_rng([611, number])
        layout = layouts(kind, 4, NOTES)[number]
        for noisy in at_ratios(layout, rng=rng, snrs_db=(60.0, 45.0, 30.0)):
            out += take_errors(noisy, tmp_path_factory.mktemp("intervals"))
    for snr_db in (60.0, 45.0, 30.0):
        out += quiet_errors(snr_db, trials=20, seed=611)
    return out


def _all_ratios(errors: list[Error], kinds: tuple[str, ...]) -> list[Share]:
    """Shares with all ratios and kinds together, so that there are enough cases."""
    return shares_of(
        [Error(e.quantity, 0.0, "all", e.error, e.stated) for e in errors if e.kind in kinds]
    )


def test_intervals_of_plucks_hold(errors: list[Error]) -> None:
    shares = _all_ratios(errors, ("ideal", "plucked"))
    print(text(shares))
    for share in shares:
        if share.n < 20:
            continue
        # 24 plucks scatter by 10 and 4 %, and the three ratios share their plucks: twice that.
        slack = 2.0 if share.n > 100 else 4.0
        assert share.inside_68 > 0.68 - slack * max(share.error_68, 0.04), text([share])
        assert share.inside_95 > 0.95 - slack * max(share.error_95, 0.03), text([share])


def test_intervals_of_quiets_hold(errors: list[Error]) -> None:
    for share in _all_ratios(errors, ("quiet",)):
        slack = 4.0 * max(share.error_95, 0.01)
        assert share.inside_95 > 0.95 - slack, text([share])
        # Nor are they stated much too wide.
        assert 0.6 < share.z_rms < 1.4, text([share])


def test_every_quantity_with_a_truth_states_its_uncertainty(errors: list[Error]) -> None:
    for share in shares_of(errors):
        assert share.stated == 1.0 or share.measured == 0.0, text([share])
    assert family_of("h07_db") == family_of("h24_db")
