"""Cable or input load: more capacitance pulls the resonance of every magnetic pickup down at once.

A pickup and its cable are a low-pass with a resonance at ``1/(2 pi sqrt(L C))``; 10 % more
capacitance lowers it by 4.7 %, another input resistance changes its height, and neither moves
anything well below it. Where every magnetic voice moved alike above 1.5 kHz (looked at in three
bands, since a resonance that moves lifts one and lowers another), none moved below 1 kHz and a
piezo output (with a buffer of its own) stayed, that is what a cable does, unless the resonances
are known to have moved apart. The same work done on every pickup can look alike only if it left
their output as it was; other pots and another tone capacitor always do, since they too load every
pickup. Where session.toml gives one cable and one input for both stages, they alone are left, and
it is no cause beside the work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.cause_facts import LoadFacts, Stated
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import FOUND_P, VoiceRows, by_comparison
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import Estimate, combine, over_notes
from tonecompare.compare.model import Confound
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.response.response_probes import Probes, borne_out, probes_of
from tonecompare.compare.voices_paired import of_comparison
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_LOAD
from tonecompare.session.model import ComparisonSpec, Session

KIND = "load"
#: What session.toml has of cable and input, and what it must have to call them the same.
_CHAIN = ("cable_length_m", "cable_pf_per_m", "input_impedance_ohm")
_TELLING = ("cable_length_m", "input_impedance_ohm")
TOP_HZ = ((1500.0, 2600.0), (2600.0, 4500.0), (4500.0, 8000.0))
BOTTOM_HZ = (80.0, 1000.0)
#: A smaller change in every top band is not worth naming, dB.
SMALLEST_DB = 1.0
#: The bottom stayed when it moved by less than this, or than this share of the top.
BOTTOM_DB = 1.0
BOTTOM_SHARE = 0.3
#: No cable moves a bottom that has surely moved by more than this, dB (a lighter input load raises
#: everything by some tenths).
NO_CABLE_DB = 0.5
#: Voices moved alike when their bands agree with the mean of the voices: cosine, and size ratio.
ALIKE_COSINE = 0.7
ALIKE_RATIO = 2.0
#: Resonances that moved so many standard errors apart (normal, one in a hundred) had no one cause.
APART = 2.6


@dataclass(frozen=True)
class _Voice:
    """How one voice moved: each top band against the bottom (arrays over the bands), the bottom."""

    name: str
    output: str
    top: Estimate
    bottom: Estimate

    @property
    def p_value(self) -> float:
        """Of the band that moved most surely, times the number of bands (Bonferroni)."""
        p = self.top.p_value
        there = np.isfinite(p)
        return float(min(1.0, p[there].min() * there.sum())) if there.any() else 1.0

    @property
    def bands_db(self) -> FloatArray:
        return np.asarray(np.nan_to_num(self.top.difference), dtype=np.float64)

    @property
    def moved(self) -> bool:
        return self.p_value < FOUND_P and float(np.abs(self.bands_db).max()) >= SMALLEST_DB


def find_load(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every comparison for a resonance that moved in all magnetic voices."""
    specs = {spec.name: spec for spec in planned_comparisons(session)}
    found = []
    for comparison, rows in by_comparison(differences).items():
        spec = specs.get(comparison)
        if spec is None:
            continue
        voices = _voices(spec, measurements)
        stated = _stated(session, spec)
        magnetic = [voice for voice in voices if voice.output == "magnetic"]
        others = [voice for voice in voices if voice.output == "piezo"]
        if len(magnetic) < 2 and not stated:
            continue
        together = not resonances_apart(rows)
        same = _stated_same(session, spec)
        found.append(_confound(comparison, magnetic, others, stated, together=together, same=same))
    return ConfoundFindings(tuple(found))


def resonances_apart(voices: Sequence[VoiceRows]) -> bool:
    """Whether the resonances of two magnetic voices moved by shares that no one cable moves them.

    A cable moves every resonance by nearly the same share, the more the less a pickup has of its
    own: ``|d_1 - d_2| > 2.6 sqrt(se_1² + se_2²)`` speaks against it (:data:`APART`).
    """
    known = [
        (voice.difference("resonance_hz"), voice.se("resonance_hz"))
        for voice in voices
        if voice.output == "magnetic" and np.isfinite(voice.difference("resonance_hz"))
    ]
    return any(
        abs(one - other) > APART * float(np.hypot(se, other_se))
        for (one, se), (other, other_se) in combinations(known, 2)
    )


def _voices(spec: ComparisonSpec, measurements: Measurements) -> list[_Voice]:
    voices = _moved(of_comparison(measurements, spec).plucks, spec.before, spec.after)
    if spec.control_before is None or spec.control_after is None:
        return voices
    control = {
        (voice.name, voice.output): voice
        for voice in _moved(measurements.plucks, spec.control_before, spec.control_after)
    }
    return [_less(voice, control.get((voice.name, voice.output))) for voice in voices]


def _less(voice: _Voice, control: _Voice | None) -> _Voice:
    if control is None:
        return voice
    parts = []
    for own, drift in ((voice.top, control.top), (voice.bottom, control.bottom)):
        parts.append(
            combine(
                own.difference - drift.difference,
                np.stack([own.se**2, drift.se**2]),
                np.stack([own.df, drift.df]),
            )
        )
    return _Voice(voice.name, voice.output, parts[0], parts[1])


def _moved(plucks: pd.DataFrame, before: str, after: str) -> list[_Voice]:
    if plucks.empty:
        return []
    voices = []
    of = plucks[plucks["stage"].isin([before, after])]
    for (voice, output), group in of.groupby(["voice", "output"], sort=False):
        probes = probes_of(group, before, after)
        if probes is None or not borne_out(probes):
            probes = probes_of(group, before, after, placed=False)
        if probes is None:
            continue
        bottom = _band(probes, *BOTTOM_HZ)
        top = np.stack([_band(probes, *band) for band in TOP_HZ], axis=1) - bottom[:, np.newaxis]
        if np.isfinite(top).sum(axis=0).max() >= 2:
            voices.append(_Voice(str(voice), str(output), over_notes(top), over_notes(bottom)))
    return voices


def _band(probes: Probes, low_hz: float, high_hz: float) -> FloatArray:
    """Mean difference of each note's partials in a band, NaN where a note has none."""
    inside = (probes.frequency_hz >= low_hz) & (probes.frequency_hz < high_hz)
    weight = np.where(inside, 1.0 / probes.variance, 0.0)
    total = np.bincount(probes.note, weight, probes.n_notes)
    value = np.bincount(probes.note, weight * probes.difference_db, probes.n_notes)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(total > 0.0, value / total, np.nan), dtype=np.float64)


def _stated(session: Session, spec: ComparisonSpec) -> Stated | None:
    """Return what session.toml has of cable and input, where it differs."""
    for condition, (before, after) in _chain(session, spec).items():
        if before is not None and after is not None and before != after:
            return Stated(condition, before, after)
    return None


def _stated_same(session: Session, spec: ComparisonSpec) -> bool:
    """Whether session.toml gives one cable and input: length and impedance there, nothing apart."""
    chain = _chain(session, spec)
    told = all(None not in chain.get(name, (None,)) for name in _TELLING)
    return told and all(before == after for before, after in chain.values())


def _chain(session: Session, spec: ComparisonSpec) -> dict[str, tuple[float | None, float | None]]:
    """Return what session.toml has of cable and input before and after, empty where nothing."""
    stages = [session.stages.get(stage) for stage in (spec.before, spec.after)]
    sides = [session.conditions.get(of.conditions or "") if of else None for of in stages]
    if sides[0] is None or sides[1] is None:
        return {}
    return {name: (getattr(sides[0], name), getattr(sides[1], name)) for name in _CHAIN}


def _together(magnetic: list[_Voice]) -> _Voice:
    """Return the mean of the voices, as surely as all of them together tell it."""
    count = len(magnetic)

    def mean(estimates: list[Estimate]) -> Estimate:
        return combine(
            np.mean([one.difference for one in estimates], axis=0),
            np.stack([one.se**2 / count**2 for one in estimates]),
            np.stack([one.df for one in estimates]),
        )

    return _Voice(
        "", "magnetic", mean([v.top for v in magnetic]), mean([v.bottom for v in magnetic])
    )


def _is_found(magnetic: list[_Voice], others: list[_Voice]) -> bool:
    if len(magnetic) < 2:
        return False
    whole = _together(magnetic)
    size = float(np.abs(whole.bands_db).max())
    bottom = max(abs(float(voice.bottom.difference)) for voice in magnetic)
    stayed = bottom <= max(BOTTOM_DB, BOTTOM_SHARE * size)
    stayed &= not any(_surely_moved(voice.bottom) for voice in magnetic)
    buffered = not any(voice.moved and _alike(voice, whole.bands_db) for voice in others)
    alike = all(_alike(voice, whole.bands_db) for voice in magnetic)
    return whole.moved and stayed and buffered and alike


def _surely_moved(bottom: Estimate) -> bool:
    low, high = (float(end) for end in bottom.interval())
    return low > NO_CABLE_DB or high < -NO_CABLE_DB


def _alike(voice: _Voice, mean: FloatArray) -> bool:
    own, whole = float(np.linalg.norm(voice.bands_db)), float(np.linalg.norm(mean))
    if own == 0.0 or whole == 0.0:
        return False
    cosine = float(voice.bands_db @ mean) / (own * whole)
    return cosine >= ALIKE_COSINE and 1.0 / ALIKE_RATIO <= own / whole <= ALIKE_RATIO


def _confound(
    comparison: str,
    magnetic: list[_Voice],
    others: list[_Voice],
    stated: Stated | None,
    *,
    together: bool,
    same: bool,
) -> Confound:
    shown = together and _is_found(magnetic, others)
    value = low = high = p = None
    moved_at_all = any(voice.moved for voice in magnetic)
    if magnetic:
        whole = _together(magnetic)
        band = _widest(magnetic)
        ends = whole.top.interval()
        value, low, high = (float(x[band]) for x in (whole.top.difference, *ends))
        p = whole.p_value
        moved_at_all = moved_at_all or whole.moved
    return Confound(
        comparison,
        "",
        KIND,
        (shown and not same) or (stated is not None and moved_at_all),
        value,
        "dB",
        low,
        high,
        p,
        BY_LOAD,
        _facts(magnetic if shown else [], stated if moved_at_all else None, same=same),
    )


def _widest(magnetic: list[_Voice]) -> int:
    """Return the band that moved most over the voices."""
    return int(np.argmax(np.abs(np.mean([voice.bands_db for voice in magnetic], axis=0))))


def _facts(moved_alike: list[_Voice], stated: Stated | None, *, same: bool) -> LoadFacts:
    if not moved_alike:
        return LoadFacts(stated)
    band = _widest(moved_alike)
    moved_db = tuple((voice.name, float(voice.bands_db[band])) for voice in moved_alike)
    return LoadFacts(stated, TOP_HZ[band], moved_db, same)
