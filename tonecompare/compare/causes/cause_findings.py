"""What the tests for confounds hand back."""

from __future__ import annotations

from dataclasses import dataclass

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
