"""Short excerpts to listen to: the same notes before and after, as recorded and loudness-matched.

The only place of the report that touches audio. Of each voice, the lowest and the highest note
both stages share are cut at their onsets, from the pluck whose level is the middle one of its
note. Before and after get the same lengths. The matched clip is the louder side turned down until
both have the same K-weighted level (ITU-R BS.1770 filter, ungated: gating acts on decaying notes)
over the clip; nothing is ever turned up, so nothing clips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyloudnorm
import soundfile as sf

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.report.charts.chart_data import Compared, VoiceOutput
from tonecompare.report.words.names import slug
from tonecompare.report.words.numbers import with_unit
from tonecompare.session.model import Session
from tonecompare.takes.model import Audio
from tonecompare.takes.read import read_audio

#: Long enough to hear a note decay.
NOTE_S = 4.0
#: Before the onset, so that the attack is whole.
LEAD_S = 0.01
FADE_IN_S, FADE_OUT_S = 0.005, 0.12
GAP_S = 0.1
_NOTES = 2
#: Sides this close in level need no matching (0.1 dB is the usual limit for tests by ear).
_SAME_DB = 0.05
#: What is kept free below full scale when outputs are summed.
_HEADROOM_DB = 0.1
#: K-weighting of ITU-R BS.1770 at any rate: gain in dB, Q, corner in Hz and kind of each filter.
#: The analogue filters behind the standard's table of coefficients at 48 kHz.
_K_WEIGHTING = (
    (3.99984385397, 0.7071752369554193, 1681.9744509555319, "high_shelf_DeMan"),
    (0.0, 0.5003270373253953, 38.13547087613982, "high_pass_DeMan"),
)


@dataclass(frozen=True)
class Clip:
    """One excerpt; ``href`` is relative to the report folder, ``gain_db`` what was done to it."""

    label: str
    href: str
    gain_db: float = 0.0
    #: Start and stop of each note in the excerpt, in s.
    spans_s: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Clips:
    """The clips of one voice and their notes, or the reason there are none."""

    clips: tuple[Clip, ...] = ()
    notes: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class _Cut:
    note: str
    file: str
    channel: int
    onset_s: float
    length_s: float


class _Side(NamedTuple):
    """The notes of one side in a row, and where in it each stands."""

    samples: FloatArray
    rate_hz: float
    spans_s: tuple[tuple[float, float], ...]


class ClipWriter:
    """Cuts the clips of a report into ``folder/clips``; each recording is read once a voice."""

    def __init__(self, session: Session, plucks: pd.DataFrame, folder: Path) -> None:
        self._root = session.root
        self._plucks = plucks
        self._folder = folder
        self._taken: set[str] = set()
        self._last: tuple[str, Audio] | None = None

    def voice(self, comparison: Compared, voice: VoiceOutput) -> Clips:
        """Write the clips of one voice."""
        before, after = _matching_cuts(self._plucks, comparison, voice)
        if not before:
            return Clips(reason="The two stages share no note with a measured level.")
        try:
            sides = [self._audio(cuts) for cuts in (before, after)]
        except RecordingError as error:
            name = Path(error.file).name
            return Clips(reason=f"{name} could not be read again: it {error.what}.")
        notes = tuple(cut.note for cut in before)
        return Clips(self._write(comparison, voice, sides), notes)

    def blends(self, stage: str, voice: str, mixes: Sequence[tuple[float, int]]) -> Clips:
        """Write blends of a voice's two outputs at some ratios and polarities, of one loudness.

        Parameters
        ----------
        stage, voice
            The two-channel voice.
        mixes
            Ratio of the piezo (0 all magnetic, 1 all piezo) and polarity of each clip.
        """
        outputs = [_by_note(self._plucks, stage, (voice, name)) for name in ("magnetic", "piezo")]
        cuts = _cuts_of_both(*outputs)
        if not cuts:
            return Clips(reason="No note has a measured level on both outputs.")
        try:
            sides = [self._audio([pair[side] for pair in cuts]) for side in (0, 1)]
        except RecordingError as error:
            return Clips(
                reason=f"{Path(error.file).name} could not be read again: it {error.what}."
            )
        (magnetic, rate_hz, spans), (piezo, _, _) = sides
        mixed = [(1 - ratio) * magnetic + sign * ratio * piezo for ratio, sign in mixes]
        levels = np.array([k_weighted_db(samples, rate_hz) for samples in mixed])
        softest = float(levels[np.isfinite(levels)].min(initial=np.inf))
        # A sum may pass full scale: all are turned down alike until none does.
        peaks = np.array([np.abs(samples).max(initial=0.0) for samples in mixed])
        sound = np.isfinite(levels)
        over = 20.0 * np.log10(np.maximum(peaks[sound], 1e-9)) + softest - levels[sound]
        over_db = float(over.max(initial=-np.inf))
        softest -= max(over_db + _HEADROOM_DB, 0.0)
        stem = self._stem(f"{stage} {voice} blend")
        clips = []
        for (ratio, sign), samples, level in zip(mixes, mixed, levels, strict=True):
            gain_db = softest - float(level) if np.isfinite(level) else 0.0
            inverted = ", one output inverted" if sign < 0 and 0 < ratio < 1 else ""
            name = f"{stem}-{round(100 * ratio)}{'-inverted' if sign < 0 else ''}"
            label = f"{round(100 * ratio)} % piezo{inverted}, {_turned_down(gain_db)}"
            loud = samples * 10.0 ** (gain_db / 20.0)
            side = _Side(loud, rate_hz, spans)
            clips.append(self._save(name, label, side, gain_db=gain_db))
        return Clips(tuple(clips), tuple(pair[0].note for pair in cuts))

    def _audio(self, cuts: Sequence[_Cut]) -> _Side:
        pieces: list[FloatArray] = []
        spans: list[tuple[float, float]] = []
        rate_hz, at_s = 0.0, 0.0
        for cut in cuts:
            audio = self._read(cut.file)
            if pieces and audio.rate_hz != rate_hz:
                break
            rate_hz = audio.rate_hz
            pieces.append(
                excerpt(audio.samples[cut.channel - 1], cut.onset_s, cut.length_s, rate_hz)
            )
            spans.append((at_s, at_s + pieces[-1].size / rate_hz))
            pieces.append(np.zeros(round(GAP_S * rate_hz)))
            at_s = spans[-1][1] + pieces[-1].size / rate_hz
        return _Side(np.concatenate(pieces[:-1]), rate_hz, tuple(spans))

    def _read(self, file: str) -> Audio:
        """Read a recording, or hand out the one read last: a voice's notes share their file."""
        if self._last is None or self._last[0] != file:
            self._last = (file, read_audio(self._root / file))
        return self._last[1]

    def _write(
        self,
        comparison: Compared,
        voice: VoiceOutput,
        sides: Sequence[_Side],
    ) -> tuple[Clip, ...]:
        stem = self._stem(f"{comparison.name} {voice[0]} {voice[1]}")
        names = comparison.words
        files = ("before", "after")
        clips = [
            self._save(f"{stem}-{file}", f"{name}, as recorded", side)
            for file, name, side in zip(files, names, sides, strict=True)
        ]
        levels = [k_weighted_db(samples, rate_hz) for samples, rate_hz, _ in sides]
        louder = int(levels[1] > levels[0])
        gain_db = -abs(levels[1] - levels[0])
        if not np.isfinite(gain_db) or gain_db > -_SAME_DB:
            return tuple(clips)
        side = sides[louder]
        down = with_unit(-gain_db, "dB")
        label = f"{names[louder]}, turned down by {down} to match {names[1 - louder]}"
        clips.append(
            self._save(
                f"{stem}-{files[louder]}-matched",
                label,
                _Side(side.samples * 10.0 ** (gain_db / 20.0), side.rate_hz, side.spans_s),
                gain_db=gain_db,
            )
        )
        return tuple(clips)

    def _save(self, name: str, label: str, side: _Side, *, gain_db: float = 0.0) -> Clip:
        (self._folder / "clips").mkdir(exist_ok=True)
        path = self._folder / "clips" / f"{name}.flac"
        sf.write(path, side.samples, round(side.rate_hz), subtype="PCM_16")
        return Clip(label, f"clips/{name}.flac", gain_db, side.spans_s)

    def _stem(self, name: str) -> str:
        candidate, number = slug(name), 2
        while candidate in self._taken:
            candidate, number = f"{slug(name)}-{number}", number + 1
        self._taken.add(candidate)
        return candidate


def _matching_cuts(
    plucks: pd.DataFrame, comparison: Compared, voice: VoiceOutput
) -> tuple[list[_Cut], list[_Cut]]:
    sides = [_by_note(plucks, stage, voice) for stage in (comparison.before, comparison.after)]
    shared = [note for note in sides[0] if note in sides[1]]
    shared.sort(key=lambda note: float(sides[0][note]["f0_hz"].median()))
    chosen = shared if len(shared) <= _NOTES else [shared[0], shared[-1]]
    before, after = [], []
    for note in chosen:
        middles = [_middle(side[note]) for side in sides]
        length_s = min(NOTE_S, *(float(row["ring_s"]) for row in middles))
        cuts = [
            _Cut(note, str(row["file"]), int(row["channel"]), float(row["onset_s"]), length_s)
            for row in middles
        ]
        before.append(cuts[0])
        after.append(cuts[1])
    return before, after


def _turned_down(gain_db: float) -> str:
    down = with_unit(-gain_db, "dB")
    return "level as mixed" if gain_db > -_SAME_DB else f"turned down by {down}"


def _cuts_of_both(
    magnetic: dict[str, pd.DataFrame], piezo: dict[str, pd.DataFrame]
) -> list[tuple[_Cut, _Cut]]:
    """Cut the same stretch of both outputs: lowest and highest note, the pluck of middle level."""
    shared = [note for note in magnetic if note in piezo]
    shared.sort(key=lambda note: float(magnetic[note]["f0_hz"].median()))
    chosen = shared if len(shared) <= _NOTES else [shared[0], shared[-1]]
    cuts = []
    for note in chosen:
        row = _middle(magnetic[note])
        other = piezo[note]
        same = other[(other["file"] == row["file"]) & (other["pluck"] == row["pluck"])]
        if not len(same):
            continue
        onset_s = min(float(row["onset_s"]), float(same.iloc[0]["onset_s"]))
        length_s = min(NOTE_S, float(row["ring_s"]))
        pair = [
            _Cut(note, str(one["file"]), int(one["channel"]), onset_s, length_s)
            for one in (row, same.iloc[0])
        ]
        cuts.append((pair[0], pair[1]))
    return cuts


def _by_note(plucks: pd.DataFrame, stage: str, voice: VoiceOutput) -> dict[str, pd.DataFrame]:
    if not len(plucks):
        return {}
    rows = plucks[
        (plucks["stage"] == stage)
        & (plucks["voice"] == voice[0])
        & (plucks["output"] == voice[1])
        & plucks["level_dbfs"].notna()
        & plucks["ring_s"].notna()
        & plucks["f0_hz"].notna()
    ]
    return {str(note): group for note, group in rows.groupby("note", sort=False) if note}


def _middle(rows: pd.DataFrame) -> pd.Series:
    """Return the pluck whose level is the middle one (the softer of two)."""
    ordered = rows.sort_values("level_dbfs", kind="stable")
    return ordered.iloc[(len(ordered) - 1) // 2]


def excerpt(samples: FloatArray, onset_s: float, length_s: float, rate_hz: float) -> FloatArray:
    """Cut one note from ``LEAD_S`` before its onset, with raised-cosine fades.

    Parameters
    ----------
    samples
        One channel, shape (n,).
    onset_s, length_s
        Onset in the file and length of the excerpt after it.
    rate_hz
        Rate of ``samples``.
    """
    start = max(round((onset_s - LEAD_S) * rate_hz), 0)
    stop = min(round((onset_s + length_s) * rate_hz), samples.size)
    piece = samples[start:stop].copy()
    fade_in = min(round(FADE_IN_S * rate_hz), piece.size // 2)
    fade_out = min(round(FADE_OUT_S * rate_hz), piece.size // 2)
    piece[:fade_in] *= _rise(fade_in)
    piece[piece.size - fade_out :] *= _rise(fade_out)[::-1]
    return piece


def _rise(n: int) -> FloatArray:
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.arange(n) / max(n, 1)))


def k_weighted_db(samples: FloatArray, rate_hz: float) -> float:
    """Return the ungated K-weighted level (ITU-R BS.1770 filters) in dB, ``-inf`` for silence."""
    weighted = samples
    for gain_db, q, corner_hz, kind in _K_WEIGHTING:
        stage = pyloudnorm.IIRfilter(gain_db, q, corner_hz, rate_hz, kind)
        weighted = stage.apply_filter(weighted)
    power = float(np.mean(np.square(weighted))) if weighted.size else 0.0
    return 10.0 * float(np.log10(power)) if power > 0 else float("-inf")
