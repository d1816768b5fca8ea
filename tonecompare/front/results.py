"""What the calls of a script return: tables, sentences, charts."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.worth.work_steps import Step
from tonecompare.front.plots import Plots
from tonecompare.measure.flags import with_flags_as_text
from tonecompare.measure.model import Measurements
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.numbers import count
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import Session

#: Columns a notebook shows of the plucks.
_SHOWN = [
    "voice", "output", "pluck", "note", "string", "cents", "level_dbfs", "centroid_hz", "decay_s",
]  # fmt: skip
_ROWS_SHOWN = 20
_DIFFERENCES_SHOWN = [
    "comparison", "voice", "output", "quantity", "difference", "ci_low", "ci_high", "unit",
    "verdict",
]  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class MeasuredFiles:
    """Measurements of some recordings; see ``plucks``, ``quiet``, ``blend`` and ``rows``."""

    session: Session
    measurements: Measurements

    @property
    def plucks(self) -> pd.DataFrame:
        """A row per pluck and channel, the columns of ``measurements.csv``."""
        return with_flags_as_text(self.measurements.plucks)

    @property
    def quiet(self) -> pd.DataFrame:
        """A row per quiet stretch and channel, the columns of ``quiet.csv``."""
        return with_flags_as_text(self.measurements.quiet)

    @property
    def blend(self) -> pd.DataFrame:
        """A row per two-channel voice and note, the columns of ``blend.csv``."""
        return with_flags_as_text(self.measurements.blend)

    @property
    def rows(self) -> pd.DataFrame:
        """A row per measured number: value, uncertainty, unit, window, method, reason, flags."""
        return self.measurements.table.long_frame()

    def __repr__(self) -> str:
        parts = [
            count(len(self.measurements.files), "recording"),
            count(len(self.plucks), "pluck"),
            count(len(self.quiet), "quiet stretch", plural="quiet stretches"),
        ]
        return f"MeasuredFiles: {', '.join(parts)}"

    def _repr_html_(self) -> str:
        """Return the most asked columns of the plucks, as a notebook shows them."""
        return str(self.plucks[_SHOWN].to_html(max_rows=_ROWS_SHOWN, index=False, na_rep=""))


@dataclass(frozen=True, eq=False, repr=False)
class ComparedSession:
    """Everything a report is made from, measured and compared."""

    session: Session
    measurements: Measurements
    comparisons: Comparisons
    #: The report's sentences, each with the rows it rests on (``text``, ``rows``, ``voice``).
    findings: tuple[Finding, ...]
    worth: tuple[Step, ...] = ()

    @property
    def differences(self) -> pd.DataFrame:
        """A row per comparison, voice, output, note and quantity: ``differences.csv``."""
        return told_differences(self.comparisons).copy()

    @property
    def voices(self) -> tuple[str, ...]:
        """Names of the voices compared."""
        return tuple(dict.fromkeys(map(str, self.differences["voice"])))

    @property
    def plot(self) -> Plots:
        """Every chart of the page: ``plot.spectrum("bridge")`` and so on."""
        return Plots(self.session, self.measurements, self.comparisons, self.worth)

    def save(self, path: Path | str) -> Path:
        """Write all of it into one file that :func:`tonecompare.load` reads.

        Parameters
        ----------
        path
            Where to; an earlier file of ours there is replaced, any other is left alone.

        Returns
        -------
        Path
            The file written. It appears whole or not at all.

        Raises
        ------
        InputError
            When something that is not ours stands there, or it cannot be written.
        """
        from tonecompare.front.saved import save

        return save(self, Path(path))

    def write(self, folder: Path | str, *, clips: bool = True) -> Path:
        """Write the report folder, as the command ``tonecompare report`` does.

        Raises
        ------
        InputError
            When the folder holds something that is not a report, or cannot be written.
        """
        from tonecompare.report.whole_report import write_report

        return write_report(
            self.session,
            self.measurements,
            self.comparisons,
            Path(folder),
            clips=clips,
            worth=self.worth,
            findings=self.findings,
        )

    def __repr__(self) -> str:
        parts = [
            count(len(self.session.comparisons), "comparison"),
            count(len(self.voices), "voice"),
            count(len(self.findings), "finding"),
        ]
        return f"ComparedSession: {self.session.title}, {', '.join(parts)}"

    def _repr_html_(self) -> str:
        """Return the differences over all notes, as a notebook shows them."""
        over_all = self.differences[self.differences["note"] == "all"]
        shown = over_all[_DIFFERENCES_SHOWN]
        return str(shown.to_html(max_rows=_ROWS_SHOWN, index=False, na_rep=""))
