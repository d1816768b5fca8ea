"""Differences of any two sounds of a stage, with intervals: notes paired, quiets pooled.

Between two voices the notes are the sample: the difference of each note both have, judged by its
scatter over the notes (t with notes - 1). Plucks of a note are repeats. Quiets have few stretches,
so their scatter is pooled over all sounds of the stage; the resonance comes with its own standard
error.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.quiet_differences import (
    of_recordings,
    pooled_variance,
    quiet_difference,
)
from tonecompare.compare.difference.stage_differences import over_shared_notes
from tonecompare.compare.difference.stage_pairs import (
    NoteCell,
    note_cells,
    pair_notes,
    quiet_cells,
    scale_matrix,
    se_matrix,
)
from tonecompare.compare.difference.statistics import Estimate, combine
from tonecompare.compare.difference.verdicts import WEAK_DB
from tonecompare.compare.side_by_side.sounds import SHOWN, SoundDifference, VoiceSound
from tonecompare.compare.thresholds import band_on_scale, threshold_of
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import Quantity, quantity_of
from tonecompare.quantities.octave_bands import BANDS

PLUCKED, _QUIET, _OF_VOICE = (
    tuple(q for q in map(quantity_of, SHOWN) if (q.quiet, q.voice) == kind)
    for kind in ((False, False), (True, False), (False, True))
)
_ORDERED = (*PLUCKED, *_QUIET, *_OF_VOICE)
_BANDED = ("shape", "bands")
_LEVEL = [q.column for q in PLUCKED].index("level_dbfs")
_SIGNAL_TO_HUM = [q.column for q in _QUIET].index("signal_to_hum_db")


@dataclass(frozen=True)
class PairEstimate:
    """Differences over everything set side by side, on the analysis scales.

    ``means`` (2, quantities) are of the two sounds, over the notes both have.
    """

    estimate: Estimate
    n_notes: FloatArray
    means: FloatArray


@dataclass(frozen=True)
class MeasuredSounds:
    """Everything measured of the sounds of one stage, ready to be paired."""

    plucked: Mapping[VoiceSound, Mapping[str, NoteCell]]
    quiets: Mapping[VoiceSound, NoteCell]
    #: (2, quantities): values and standard errors, on the analysis scales.
    of_voice: Mapping[VoiceSound, FloatArray]
    pooled: tuple[FloatArray, FloatArray]
    overrides: Mapping[str, float]

    def pair(self, against: VoiceSound, sound: VoiceSound) -> PairEstimate:
        """Return ``sound`` minus ``against``, NaN where either lacks something."""
        notes, n_notes, note_means = self._notes(against, sound)
        quiet, quiet_means = self._quiet(against, sound, notes)
        voice, voice_means = self._voice(against, sound)
        parts = (notes, quiet, voice)
        return PairEstimate(
            Estimate(
                np.concatenate([part.difference for part in parts]),
                np.concatenate([part.se for part in parts]),
                np.concatenate([part.df for part in parts]),
            ),
            np.concatenate([n_notes, np.zeros(len(_QUIET) + len(_OF_VOICE))]),
            np.concatenate([note_means, quiet_means, voice_means], axis=1),
        )

    def shared_notes(self) -> tuple[str, ...]:
        """Return the notes that all sounds have."""
        first, *others = self.plucked.values()
        return tuple(note for note in first if all(note in one for one in others))

    def own_values(self, sound: VoiceSound) -> dict[str, float]:
        """Return what a sound has of its own, in the quantities' own units.

        Over the notes all sounds share where there are some, else over its own.
        """
        cells = self.plucked[sound]
        chosen = self.shared_notes() or tuple(cells)
        means = _mean(np.stack([cells[note].centre for note in chosen]))
        quiet = self.quiets[sound].mean if sound in self.quiets else np.full(len(_QUIET), np.nan)
        voice = self.of_voice.get(sound, np.full((2, len(_OF_VOICE)), np.nan))[0]
        values = np.concatenate([means, quiet, voice])
        return {
            q.column: float(q.value(value))
            for q, value in zip(_ORDERED, values, strict=True)
            if np.isfinite(value)
        }

    def _notes(
        self, against: VoiceSound, sound: VoiceSound
    ) -> tuple[Estimate, FloatArray, FloatArray]:
        one, other = dict(self.plucked[against]), dict(self.plucked[sound])
        if not set(one) & set(other):
            nothing = np.full(len(PLUCKED), np.nan)
            return (
                Estimate(nothing, nothing, nothing),
                np.zeros(len(PLUCKED)),
                np.array([nothing, nothing]),
            )
        pair = pair_notes((sound.voice, sound.output), one, other)
        over = over_shared_notes(pair, PLUCKED)
        means = np.stack([_mean(pair.centre_before), _mean(pair.centre_after)])
        return over.estimate, over.notes, means

    def _quiet(
        self, against: VoiceSound, sound: VoiceSound, notes: Estimate
    ) -> tuple[Estimate, FloatArray]:
        one, other = self.quiets.get(against), self.quiets.get(sound)
        if one is None or other is None:
            nothing = np.full(len(_QUIET), np.nan)
            return Estimate(nothing, nothing, nothing), np.array([nothing, nothing])
        estimate = of_recordings(quiet_difference(one, other, *self.pooled), _QUIET)
        variances = np.stack([estimate.se**2, np.zeros(len(_QUIET))])
        dfs = np.stack([estimate.df, np.full(len(_QUIET), np.inf)])
        if np.isfinite(notes.se[_LEVEL]):  # the signal's own uncertainty
            variances[1, _SIGNAL_TO_HUM] = notes.se[_LEVEL] ** 2
            dfs[1, _SIGNAL_TO_HUM] = notes.df[_LEVEL]
        return combine(estimate.difference, variances, dfs), np.stack([one.mean, other.mean])

    def _voice(self, against: VoiceSound, sound: VoiceSound) -> tuple[Estimate, FloatArray]:
        nothing = np.full((2, len(_OF_VOICE)), np.nan)
        one, other = (self.of_voice.get(each, nothing) for each in (against, sound))
        se = np.hypot(one[1], other[1])
        estimate = Estimate(other[0] - one[0], se, np.where(np.isfinite(se), np.inf, np.nan))
        return estimate, np.stack([one[0], other[0]])

    def cells(self, pair: PairEstimate, *, together: int = 1) -> dict[str, SoundDifference]:
        """Return the differences with intervals in their own units.

        Parameters
        ----------
        pair
            From :meth:`pair`.
        together
            How many sounds are read side by side: intervals hold for all of them at once
            (Bonferroni). Bands are read along one sound: theirs hold for the eight of it.
        """
        among = np.array([len(BANDS) if q.family in _BANDED else together for q in _ORDERED])
        return self._cells(pair, 1.0 - 0.05 / among)

    def level_and_bands(self, pair: PairEstimate) -> dict[str, SoundDifference]:
        """Return the differences with intervals that hold for level and all bands together."""
        # Half the error for the level, half for the bands.
        among = np.array([len(BANDS) if q.family in _BANDED else 1.0 for q in _ORDERED])
        return self._cells(pair, 1.0 - 0.025 / among)

    def _cells(self, pair: PairEstimate, confidence: FloatArray) -> dict[str, SoundDifference]:
        low, high = pair.estimate.interval(confidence=confidence)
        return {
            q.column: self._cell(q, pair, index, low[index], high[index])
            for index, q in enumerate(_ORDERED)
        }

    def _cell(
        self, q: Quantity, pair: PairEstimate, index: int, low: float, high: float
    ) -> SoundDifference:
        threshold = threshold_of(q, overrides=self.overrides)
        band = band_on_scale(q, threshold) if threshold is not None else (np.nan, np.nan)
        value, ci_low, ci_high, least, most = (
            float(end) if np.isfinite(end) else None
            for end in q.from_scale([pair.estimate.difference[index], low, high, *band])
        )
        weakest = WEAK_DB.get(q.family)
        louder = float(np.fmax(*pair.means[:, index]))
        # A band that one note of several reaches says nothing of the voice.
        one_note = q.family in _BANDED and pair.n_notes[index] < 2 <= pair.n_notes[_LEVEL]
        return SoundDifference(
            q.column, q.units[0], value, ci_low, ci_high, int(pair.n_notes[index]), least, most,
            weak=bool(one_note) or (weakest is not None and not louder >= weakest),
        )  # fmt: skip


def measured_sounds(
    measurements: Measurements,
    stage: str,
    sounds: Iterable[VoiceSound],
    overrides: Mapping[str, float],
) -> MeasuredSounds:
    """Gather what was measured of the sounds of a stage; a sound without plucks is left out."""
    plucked = note_cells(measurements.plucks, stage, PLUCKED)
    quiets = quiet_cells(measurements.quiet, stage, _QUIET)
    kept = [one for one in sounds if (one.voice, one.output) in plucked]
    found = {one: quiets[one.voice, one.output] for one in kept
             if (one.voice, one.output) in quiets}  # fmt: skip
    nothing = np.full(len(_QUIET), np.nan)
    return MeasuredSounds(
        {one: plucked[one.voice, one.output] for one in kept},
        found,
        _of_voice(measurements, stage),
        pooled_variance(list(found.values())) if found else (nothing, nothing),
        overrides,
    )


def _of_voice(measurements: Measurements, stage: str) -> dict[VoiceSound, FloatArray]:
    voices = measurements.voices
    if voices.empty:
        return {}
    frame = voices[voices["stage"] == stage]
    values, se = scale_matrix(frame, _OF_VOICE), se_matrix(frame, _OF_VOICE)
    return {
        VoiceSound(str(voice), str(output)): np.stack([values[row], se[row]])
        for row, (voice, output) in enumerate(zip(frame["voice"], frame["output"], strict=True))
    }


def _mean(values: FloatArray) -> FloatArray:
    there = np.isfinite(values)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(there, values, 0.0).sum(axis=0) / there.sum(axis=0))
