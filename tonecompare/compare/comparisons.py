"""All comparisons of a session: what comparing returns. Frozen data, no file access."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.model import (
    AcousticLikeness,
    BenchSign,
    Confound,
    Equaliser,
    Note,
    RecordingOfBlend,
    Response,
)
from tonecompare.compare.side_by_side.sounds import StageVoices


@dataclass(frozen=True, eq=False)
class Comparisons:
    """All comparisons of a session.

    ``rows`` are the differences on their analysis scales, judged; a reason in them may name places
    in ``confounds``.
    """

    rows: DifferenceRows
    confounds: tuple[Confound, ...] = ()
    responses: tuple[Response, ...] = ()
    equalisers: tuple[Equaliser, ...] = ()
    #: What holds for a whole comparison (no control was recorded, …), by comparison.
    notes: Mapping[str, tuple[Note, ...]] = field(default_factory=dict)
    #: How near each blend of two outputs comes to a recording of an acoustic reference.
    likenesses: tuple[AcousticLikeness, ...] = ()
    #: Recordings of a blend, and which blend they hold.
    recordings_of_blends: tuple[RecordingOfBlend, ...] = ()
    #: Extra tables by name (between-guitar spread, drift of the control, plucks still needed, …).
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    #: What the takes of single stages say at the bench (dead spots, coil mismatch, …).
    bench: tuple[BenchSign, ...] = ()
    #: The voices of each stage side by side.
    voices: tuple[StageVoices, ...] = ()
    #: Pairs that the session does not name and the tables of guitars and of worth rest on.
    further: Comparisons | None = None

    def holding(self, comparison: str) -> Comparisons:
        """Return these comparisons, or the further ones where a comparison is one of those."""
        if self.further is not None and comparison in self.further.notes:
            return self.further
        return self

    @cached_property
    def differences(self) -> pd.DataFrame:
        """The rows in the units people read, with the columns of ``differences.csv``.

        ``before_value`` and ``after_value`` are in the quantity's own unit (in its name),
        ``difference`` and its interval in ``unit``. ``reason`` holds a
        :class:`tonecompare.compare.reasons.Reason` a row;
        :func:`tonecompare.report.words.reason_words.told_differences` writes them out.
        """
        return to_frame(self.rows)
