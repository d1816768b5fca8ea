"""Codec or processing: a file that was coded or compressed in one stage is no longer the same DI.

Two signs: the marks a codec, a lower rate, a gate or a fade leave in the files (flags of the
takes), found in one stage only; and compression: peaks nearer the level *and* every partial's
decay longer by the same ratio, in every voice, since a compressor turns up what dies away. Strings
that merely ring longer bring the level nearer the peaks too, since the level is taken while they
die away; only what goes beyond that counts.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.cause_facts import ProcessingFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import FOUND_P, VoiceRows, by_comparison
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import Estimate, over_notes
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_COMPRESSION, BY_MARK
from tonecompare.quantities.registry import PARTIAL_DECAYS
from tonecompare.session.model import Session

KIND = "processing"
#: A mark counts when it stands on more than this share of one side and less on the other.
MOST = 0.5
#: Compression: peaks this much nearer the level, and decays this much longer (log ratio).
LEAST_CREST_DB = 1.0
LEAST_LONGER = 0.15
#: Seconds after the onset over which ``level_dbfs`` is taken.
_LEVEL_WINDOW_S = (0.05, 0.55)


def find_processing(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every comparison for files that were coded or processed in one stage only."""
    found = []
    for comparison, voices in by_comparison(differences).items():
        before, after = voices[0].before, voices[0].after
        plucks = measurements.plucks
        # Of many stages the two alone: each voice searches them again.
        plucks = plucks[plucks["stage"].isin((before, after))] if len(plucks) else plucks
        marks = _marks(plucks, before, after)
        squeeze = _compression(plucks, voices)
        found.append(_confound(comparison, marks, squeeze))
    return ConfoundFindings(tuple(found))


def _marks(plucks: pd.DataFrame, before: str, after: str) -> dict[str, str]:
    """Return the marks on most plucks of one stage and few of the other, with that stage."""
    shares: dict[str, list[float]] = {mark: [] for mark in BY_MARK}
    if "flags" not in plucks.columns:
        return {}
    for stage in (before, after):
        flags = plucks.loc[plucks["stage"] == stage, "flags"]
        words = [{flag.code for flag in of_pluck} for of_pluck in flags]
        for mark in BY_MARK:
            shares[mark].append(float(np.mean([mark in w for w in words])) if words else 0.0)
    found = {}
    for mark, (one, other) in shares.items():
        if max(one, other) > MOST and min(one, other) < 1.0 - MOST:
            found[mark] = before if one > other else after
    return found


def _compression(plucks: pd.DataFrame, voices: list[VoiceRows]) -> tuple[Estimate, Estimate] | None:
    """Crest and common decay changes where both speak of a compressor, in every voice."""
    crests, decays, beyond = [], [], []
    for voice in voices:
        crest, excess = _crest(plucks, voice, rung=False), _crest(plucks, voice, rung=True)
        if crest is None or excess is None:
            continue
        decay = _common_decay(voice)
        if decay is None:
            continue
        crests.append(crest)
        decays.append(decay)
        beyond.append(excess)
    if not crests:
        return None
    together = [_is_squeeze(excess, decay) for excess, decay in zip(beyond, decays, strict=True)]
    return (crests[0], decays[0]) if all(together) else None


def _is_squeeze(crest: Estimate, decay: Estimate) -> bool:
    # Either stage may be the compressed one: both signs turn together.
    opposite = float(crest.difference) * float(decay.difference) < 0.0
    return bool(
        opposite
        and crest.p_value < FOUND_P
        and decay.p_value < FOUND_P
        and abs(crest.difference) >= LEAST_CREST_DB
        and abs(decay.difference) >= LEAST_LONGER
    )


def dying_db(decay_s: FloatArray) -> FloatArray:
    """Return how far the level lies below that at the onset because the note dies away, dB.

    ``-10 lg`` of the mean of ``10^(-6 t / T60)`` over the level's window.
    """
    rate = 6.0 * np.log(10.0) / decay_s
    first, last = _LEVEL_WINDOW_S
    mean = (np.exp(-rate * first) - np.exp(-rate * last)) / (rate * (last - first))
    return np.asarray(-10.0 * np.log10(mean))


def _crest(plucks: pd.DataFrame, voice: VoiceRows, *, rung: bool) -> Estimate | None:
    """Change of peak over level, note by note; ``rung``: less what the decay makes of it."""
    of = plucks[
        (plucks["voice"].astype(str) == voice.voice)
        & (plucks["output"].astype(str) == voice.output)
    ]
    values = numbers(of, ["peak_dbfs", "level_dbfs", "decay_early_s", "decay_s"])
    early_s = np.where(np.isfinite(values[:, 2]), values[:, 2], values[:, 3])
    crest = pd.Series(values[:, 0] - values[:, 1], index=of.index)
    if rung:
        crest -= dying_db(early_s)
    mean = crest.groupby([of["stage"].astype(str), of["note"].astype(str)]).mean()
    changes = [
        float(mean[(voice.after, note)] - mean[(voice.before, note)])
        for note in dict.fromkeys(of["note"].astype(str))
        if (voice.after, note) in mean and (voice.before, note) in mean
    ]
    finite = [change for change in changes if np.isfinite(change)]
    return over_notes(np.array(finite)) if len(finite) >= 3 else None


def _common_decay(voice: VoiceRows) -> Estimate | None:
    """Median change of all partials' decay of a note, over the notes, log ratio."""
    changes: dict[str, list[float]] = {}
    table = voice.table
    for row in voice.single_notes(*PARTIAL_DECAYS):
        if np.isfinite(table.difference[row]):
            changes.setdefault(str(table.note[row]), []).append(float(table.difference[row]))
    medians = [float(np.median(values)) for values in changes.values() if len(values) >= 4]
    return over_notes(np.array(medians)) if len(medians) >= 3 else None


def _confound(
    comparison: str, marks: Mapping[str, str], squeeze: tuple[Estimate, Estimate] | None
) -> Confound:
    explained: list[str] = [quantity for mark in marks for quantity in BY_MARK[mark]]
    value = low = high = p = decay_percent = None
    if squeeze is not None:
        explained += BY_COMPRESSION
        crest, decay = squeeze
        ends = crest.interval()
        value, low, high = float(crest.difference), float(ends[0]), float(ends[1])
        p = float(max(crest.p_value, decay.p_value))
        decay_percent = 100.0 * float(np.expm1(decay.difference))
    return Confound(
        comparison,
        "",
        KIND,
        bool(marks) or squeeze is not None,
        value,
        "dB",
        low,
        high,
        p,
        tuple(dict.fromkeys(explained)),
        ProcessingFacts(tuple(marks.items()), decay_percent),
    )
