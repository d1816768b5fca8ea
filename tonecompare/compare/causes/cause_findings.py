"""What the tests for confounds hand back."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.compare.model import Confound


@dataclass(frozen=True)
class Adjustment:
    """One row of the differences again, with a confound taken out; numbers in ``unit``."""

    comparison: str
    voice: str
    output: str
    note: str
    quantity: str
    unit: str
    difference: float
    ci_low: float
    ci_high: float
    #: The kind of confound taken out (``gain``, ``pick-position``, …).
    adjusted_for: str

    @property
    def row(self) -> tuple[str, ...]:
        """What names its row in the table of differences."""
        return self.comparison, self.voice, self.output, self.note, self.quantity, self.unit


@dataclass(frozen=True)
class ConfoundFindings:
    """Confounds tested for (found or not) and the differences with them taken out."""

    confounds: tuple[Confound, ...] = ()
    adjustments: tuple[Adjustment, ...] = ()
