"""What a voice's charts are drawn from: one voice and output at two stages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from tonecompare.language import tr, tr_later
from tonecompare.measure.model import PhraseCurve, PluckCurves, QuietCurves
from tonecompare.report.charts.canvas.sheet import Sheet
from tonecompare.report.words.listening_words.chart_words import inside
from tonecompare.report.words.names import told_apart

#: What a panel says when the takes share no note.
NO_SHARED_NOTE = tr_later(
    "The two stages share no note with curves, so there is nothing to average."
)


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
    #: Repeats of the riff that both sides have played oftenest.
    phrase_before: Sequence[PhraseCurve] = ()
    phrase_after: Sequence[PhraseCurve] = ()
    #: What each chart says, by its kind ("spectrum", "phrase", "partials", "decay", "hum").
    says: Mapping[str, str] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, str]:
        """What is written beside the lines: the labels without what both begin with."""
        before, after = told_apart([self.before_label, self.after_label])
        return before, after

    @property
    def single_notes(self) -> bool:
        """Whether the stages share a note whose partials were measured."""
        shared = [note for note in self.before if note in self.after]
        return any(
            np.isfinite(one.partial_dbfs).any() for note in shared for one in self.before[note]
        )

    def sheet(self, kind: str, shown: str) -> Sheet:
        """Return the sheet of a chart: what it says, then what it shows, of which stages.

        Where it says nothing, no title names the voice; then the line below does.
        """
        if kind not in self.says:
            shown = f"{self.title}, {inside(shown)}"
        topic = tr(
            "{shown}: {before} to {after}",
            shown=shown,
            before=self.before_label,
            after=self.after_label,
        )
        return Sheet(topic, says=self.says.get(kind, ""))

    def titles(self) -> tuple[str, str, str]:
        """Every text of the user's that a chart writes."""
        return self.title, self.before_label, self.after_label
