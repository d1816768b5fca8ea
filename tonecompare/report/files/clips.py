"""Short excerpts to listen to: the same notes before and after, as recorded and loudness-matched.

The only place of the report that touches audio. Of each voice, the lowest and the highest note
both stages share are cut at their onsets, from the pluck whose level is the middle one of its
note. Before and after get the same lengths. The matched clip is the louder side turned down until
both have the same K-weighted level (ITU-R BS.1770 filter, ungated: gating acts on decaying notes)
over the clip; nothing is ever turned up, so nothing clips.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import soundfile as sf

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.language import tr, tr_later
from tonecompare.measure.model import FileRecord
from tonecompare.report.charts.chart_data import Compared, VoiceOutput
from tonecompare.report.sounds.cuts import (
    Cut,
    by_note,
    common_length_s,
    cut_of,
    excerpt,
    from_the_middle,
)
from tonecompare.report.sounds.flac_rate import for_flac
from tonecompare.report.sounds.loudness import k_weighted_db
from tonecompare.report.sounds.measured_file import by_name, read_as_measured
from tonecompare.report.words.names import slug
from tonecompare.report.words.numbers import with_unit
from tonecompare.session.model import Session
from tonecompare.takes.model import Audio

#: Long enough to hear a note decay.
NOTE_S = 4.0
GAP_S = 0.1
_NOTES = 2
#: Sides this close in level need no matching (0.1 dB is the usual limit for tests by ear).
_SAME_DB = 0.05
#: What is kept free below full scale when outputs are summed.
_HEADROOM_DB = 0.1

#: What follows the name of a side in the label of its clip.
AS_RECORDED = tr_later(", as recorded")


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


class _Side(NamedTuple):
    """The notes of one side in a row, and where in it each stands."""

    samples: FloatArray
    rate_hz: float
    spans_s: tuple[tuple[float, float], ...]


class ClipWriter:
    """Cuts the clips of a report into ``folder/clips``; each recording is read once a voice.

    Of ``files``, as they were measured, one that was changed since has no clip.
    """

    def __init__(
        self,
        session: Session,
        plucks: pd.DataFrame,
        folder: Path,
        files: Sequence[FileRecord] = (),
    ) -> None:
        self._root = session.root
        self._plucks = plucks
        self._folder = folder
        self._wanted = session.listen
        self._measured = by_name(files)
        self._taken: set[str] = set()
        self._last: tuple[str, Audio] | None = None

    def voice(self, comparison: Compared, voice: VoiceOutput) -> Clips:
        """Write the clips of one voice."""
        before, after = _matching_cuts(self._plucks, comparison, voice, wanted=self._wanted)
        if not before:
            return Clips(reason=tr("The two stages share no note with a measured level."))
        try:
            sides = [self._audio(cuts) for cuts in (before, after)]
        except RecordingError as error:
            name = Path(error.file).name
            return Clips(reason=_not_read(name, error))
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
        outputs = [by_note(self._plucks, stage, (voice, name)) for name in ("magnetic", "piezo")]
        cuts = _cuts_of_both(*outputs, wanted=self._wanted)
        if not cuts:
            return Clips(reason=tr("No note has a measured level on both outputs."))
        try:
            sides = [self._audio([pair[side] for pair in cuts]) for side in (0, 1)]
        except RecordingError as error:
            return Clips(reason=_not_read(Path(error.file).name, error))
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
            inverted = tr(", one output inverted") if sign < 0 and 0 < ratio < 1 else ""
            name = f"{stem}-{round(100 * ratio)}{'-inverted' if sign < 0 else ''}"
            share = tr("{percent} % piezo", percent=round(100 * ratio))
            label = f"{share}{inverted}, {_turned_down(gain_db)}"
            loud = samples * 10.0 ** (gain_db / 20.0)
            side = _Side(loud, rate_hz, spans)
            clips.append(self._save(name, label, side, gain_db=gain_db))
        return Clips(tuple(clips), tuple(pair[0].note for pair in cuts))

    def _audio(self, cuts: Sequence[Cut]) -> _Side:
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
            self._last = (file, read_as_measured(self._root, file, self._measured))
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
            self._save(f"{stem}-{file}", f"{name}{tr(AS_RECORDED)}", side)
            for file, name, side in zip(files, names, sides, strict=True)
        ]
        levels = [k_weighted_db(samples, rate_hz) for samples, rate_hz, _ in sides]
        louder = int(levels[1] > levels[0])
        gain_db = -abs(levels[1] - levels[0])
        if not np.isfinite(gain_db) or gain_db > -_SAME_DB:
            return tuple(clips)
        side = sides[louder]
        down = with_unit(-gain_db, "dB")
        label = tr(
            "{one}, turned down by {down} to match {other}",
            one=names[louder],
            down=down,
            other=names[1 - louder],
        )
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
        samples, rate_hz = for_flac(side.samples, side.rate_hz)
        packed = io.BytesIO()  # a full disk is told of by the system, not by the encoder
        sf.write(packed, samples, round(rate_hz), format="FLAC", subtype="PCM_16")
        path.write_bytes(packed.getvalue())
        return Clip(label, f"clips/{name}.flac", gain_db, side.spans_s)

    def _stem(self, name: str) -> str:
        candidate, number = slug(name), 2
        while candidate in self._taken:
            candidate, number = f"{slug(name)}-{number}", number + 1
        self._taken.add(candidate)
        return candidate


def _chosen(shared: Sequence[str], wanted: Sequence[str]) -> list[str]:
    """Return the notes to hear: those wanted that are there, or else the lowest and the highest."""
    found = [note for note in wanted if note in shared]
    return found or (list(shared) if len(shared) <= _NOTES else [shared[0], shared[-1]])


def _matching_cuts(
    plucks: pd.DataFrame, comparison: Compared, voice: VoiceOutput, *, wanted: Sequence[str] = ()
) -> tuple[list[Cut], list[Cut]]:
    sides = [by_note(plucks, stage, voice) for stage in (comparison.before, comparison.after)]
    if not set(sides[0]) & set(sides[1]):  # no single note: chords and riffs
        stages = (comparison.before, comparison.after)
        sides = [by_note(plucks, stage, voice, pitched=False) for stage in stages]
    shared = [note for note in sides[0] if note in sides[1]]
    before, after = [], []
    for note in _chosen(shared, wanted):
        middles = [from_the_middle(side[note]).iloc[:1] for side in sides]
        length_s = common_length_s(middles, NOTE_S)
        cuts = [cut_of(row.iloc[0], length_s) for row in middles]
        before.append(cuts[0])
        after.append(cuts[1])
    return before, after


def _turned_down(gain_db: float) -> str:
    down = with_unit(-gain_db, "dB")
    return tr("level as mixed") if gain_db > -_SAME_DB else tr("turned down by {down}", down=down)


def _not_read(name: str, error: RecordingError) -> str:
    return tr("{file} could not be read again: it {what}.", file=name, what=tr(error.what))


def _cuts_of_both(
    magnetic: dict[str, pd.DataFrame], piezo: dict[str, pd.DataFrame], *, wanted: Sequence[str] = ()
) -> list[tuple[Cut, Cut]]:
    """Cut the same stretch of both outputs: lowest and highest note, the pluck of middle level."""
    shared = [note for note in magnetic if note in piezo]
    cuts = []
    for note in _chosen(shared, wanted):
        row = from_the_middle(magnetic[note]).iloc[0]
        other = piezo[note]
        same = other[(other["file"] == row["file"]) & (other["pluck"] == row["pluck"])]
        if not len(same):
            continue
        onset_s = min(float(row["onset_s"]), float(same.iloc[0]["onset_s"]))
        length_s = min(NOTE_S, float(row["ring_s"]))
        pair = [replace(cut_of(one, length_s), onset_s=onset_s) for one in (row, same.iloc[0])]
        cuts.append((pair[0], pair[1]))
    return cuts
