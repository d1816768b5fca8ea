"""What the tests for confounds hand back."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.compare.model import Confound


@dataclass(frozen=True)
class Adjustment:
    """One row of the differences again, with a confound taken out; on the analysis scale."""

    #: Its place in the table of differences.
    row: int
    difference: float
    low: float
    high: float
    #: The kind of confound taken out (``gain``, ``pick-position``, …).
    adjusted_for: str


@dataclass(frozen=True)
class ConfoundFindings:
    """Confounds tested for (found or not) and the differences with them taken out."""

    confounds: tuple[Confound, ...] = ()
    adjustments: tuple[Adjustment, ...] = ()

    def at(self, places: NDArray[np.intp]) -> ConfoundFindings:
        """Return what was found in some rows of a table, at their ``places`` in all of it."""
        moved = (replace(one, row=int(places[one.row])) for one in self.adjustments)
        return replace(self, adjustments=tuple(moved))
