"""What a voice's charts are drawn from: one voice and output at two stages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tonecompare.measure.model import PluckCurves, QuietCurves

#: What a panel says when the takes share no note.
NO_SHARED_NOTE = "The two stages share no note with curves, so there is nothing to average."


@dataclass(frozen=True)
class ChartPair:
    """Curves of one voice and output, before and after.

    ``before`` and ``after`` hold the plucks' curves by note, ``quiet_*`` the spectra of the quiet
    stretches; ``mains_hz_*`` is what was found in them.
    """

    title: str
    before_label: str
    after_label: str
    before: Mapping[str, Sequence[PluckCurves]] = field(default_factory=dict)
    after: Mapping[str, Sequence[PluckCurves]] = field(default_factory=dict)
    quiet_before: Sequence[QuietCurves] = ()
    quiet_after: Sequence[QuietCurves] = ()
    mains_hz_before: float | None = None
    mains_hz_after: float | None = None
    #: What the mark at each curve's end says.
    words: tuple[str, str] = ("before", "after")

    def titles(self) -> tuple[str, str, str]:
        """Every text of the user's that a chart writes."""
        return self.title, self.before_label, self.after_label
