"""What holds for a whole comparison: what it can show and what could hide in it.

Each note is a code with its data; the sentences are made in the report's words.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from tonecompare.compare.causes.gain.turned_gain import find_gain
from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.guitars.guitar_spread import FEWEST_GUITARS, repeat_pairs, stock_stages
from tonecompare.compare.model import Note
from tonecompare.compare.voices_paired import of_comparison
from tonecompare.measure.model import FileRecord, Measurements
from tonecompare.measure.played.same_music import SAME_MUSIC
from tonecompare.session.model import ComparisonSpec, Session
from tonecompare.takes.plucks.passages import is_passage, is_played

#: A stage without a measured recording: its name.
NOT_MEASURED = "not-measured"
#: Voices of one stage only, so that nothing of them is compared: the stage, the voices.
ONLY_AT_ONE = "only-at-one"
#: A voice played with other music at the two stages: the voice, how alike (0 … 1), how alike is
#: the same.
OTHER_MUSIC = "other-music"
#: Files of the same bytes: their names, whether all stand at one stage.
SAME_FILE = "same-file"
#: Two instruments compared that nobody called of one model: their names.
TWO_INSTRUMENTS = "two-instruments"
#: Sisters compared: the before and the after guitar, their model, how many unmodified guitars of
#: it show how far such differ (0 when too few).
SISTERS = "sisters"
#: No instrument left unchanged was recorded in both sessions; no data.
NO_CONTROL = "no-control"
#: A control that gives no usable drift: its name.
CONTROL_UNUSABLE = "control-unusable"
#: A control whose drift is taken out: its name, the quantities that it moved in.
CONTROL_TAKEN_OUT = "control-taken-out"
#: The control's hiss and level moved together: by how many dB.
CONTROL_GAIN = "control-gain"
#: One session a side: before, after, stages recorded again without work.
ONE_SESSION = "one-session"
#: Two voices of one stage, recorded in one sitting; no data.
ONE_SITTING = "one-sitting"
#: Two voices of two stages, so that voice and stage differ: the stages.
VOICE_AND_STAGE = "voice-and-stage"
#: Fewer notes on both sides than tell anything: how many, how many would.
FEW_NOTES = "few-notes"
#: Fewer plucks of a note than tell anything: how many that is, how many to record.
FEW_PLUCKS = "few-plucks"
#: Riffs or chords were played instead of single notes: how many riffs, how many chords, how often
#: the least played of them was on each side, how often each is to be played.
PLAYED = "played"
#: One quiet stretch of a voice shows nothing of what moves between stretches; no data.
ONE_STRETCH = "one-quiet-stretch"
#: Fewest notes on both sides and fewest plucks of each that tell anything; plucks worth recording.
FEWEST_NOTES, FEWEST_PLUCKS, PLUCKS_TO_RECORD = 3, 3, 5
#: How often a riff or chord is to be played on each side.
TIMES_TO_PLAY = 4


def comparison_notes(
    session: Session,
    spec: ComparisonSpec,
    measurements: Measurements,
    differences: DifferenceRows,
    control: DifferenceRows,
) -> tuple[Note, ...]:
    """Return the notes of one comparison, the weightiest first."""
    rows = to_frame(differences.rows(differences.comparison == spec.name))
    control = control.rows(control.comparison == spec.name)
    measurements = of_comparison(measurements, spec)
    drift = to_frame(control)
    if spec.between_voices:
        return (
            *_other_music(spec, measurements),
            *_same_file(spec, measurements),
            *_of_voices(session, spec),
            *_few(rows),
            *_quiet(rows),
        )
    return (
        *_missing(spec, measurements),
        *_other_music(spec, measurements),
        *_same_file(spec, measurements),
        *_two_instruments(session, spec),
        *_control(session, spec, rows, drift),
        *_control_gain(session, measurements, control),
        *_one_session(session, spec),
        *_few(rows),
        *_quiet(rows),
    )


def _missing(spec: ComparisonSpec, measurements: Measurements) -> Iterator[Note]:
    voices = {
        stage: _voices(measurements, stage)
        for stage in (spec.before, spec.after, spec.control_before, spec.control_after)
        if stage is not None
    }
    for stage, found in voices.items():
        if not found:
            yield Note(NOT_MEASURED, (stage,))
    for one, other in ((spec.before, spec.after), (spec.after, spec.before)):
        only = sorted(voices[one] - voices[other])
        if only and voices[other]:
            yield Note(ONLY_AT_ONE, (one, tuple(only)))


def _other_music(spec: ComparisonSpec, measurements: Measurements) -> Iterator[Note]:
    """Name the voices of which both stages hold passages, but none of the same music."""
    plucks = measurements.plucks
    if not len(plucks) or "likeness" not in plucks:
        return
    played = plucks[plucks["note"].map(is_passage)]
    before, after = (played[played["stage"] == stage] for stage in (spec.before, spec.after))
    for voice in dict.fromkeys(before["voice"]):
        mine, yours = (each[each["voice"] == voice] for each in (before, after))
        if len(yours) and not set(mine["note"]) & set(yours["note"]):
            firsts = pd.concat([mine, yours]).drop_duplicates("note")["likeness"]
            yield Note(OTHER_MUSIC, (str(voice), float(firsts.fillna(0.0).max()), SAME_MUSIC))


def _same_file(spec: ComparisonSpec, measurements: Measurements) -> Iterator[Note]:
    """Name files that hold the same bytes: at two stages, or twice at one."""
    stages = (spec.before, spec.after, spec.control_before, spec.control_after)
    by_hash: dict[str, list[FileRecord]] = {}
    for record in measurements.files:
        if record.stage in stages and record.sha256:
            by_hash.setdefault(record.sha256, []).append(record)
    for records in by_hash.values():
        if len(records) > 1:
            at_one = len({record.stage for record in records}) == 1
            yield Note(SAME_FILE, (tuple(record.file for record in records), at_one))


def _voices(measurements: Measurements, stage: str) -> set[str]:
    found: set[str] = set()
    for frame in (measurements.plucks, measurements.quiet):
        if len(frame):
            found |= set(frame.loc[frame["stage"] == stage, "voice"].astype(str))
    return found


def _two_instruments(session: Session, spec: ComparisonSpec) -> Iterator[Note]:
    one, other = (_instrument(session, stage) for stage in spec.stages)
    if not one or not other or one == other:
        return
    if not session.sisters(*spec.stages):
        yield Note(TWO_INSTRUMENTS, (one, other))
        return
    model = session.instrument_of(spec.stages[0]).model
    stock = len(stock_stages(session, model))
    yield Note(SISTERS, (one, other, model, stock if stock >= FEWEST_GUITARS else 0))


def _instrument(session: Session, stage: str | None) -> str:
    known = session.stages.get(stage) if stage is not None else None
    return known.instrument if known else ""


def _control(
    session: Session, spec: ComparisonSpec, rows: pd.DataFrame, drift: pd.DataFrame
) -> Iterator[Note]:
    if spec.control_before is None or spec.control_after is None:
        yield Note(NO_CONTROL)
        return
    name = _instrument(session, spec.control_before) or spec.control_before
    if rows["control_difference"].isna().all():
        yield Note(CONTROL_UNUSABLE, (name,))
        return
    shown = drift[(drift["note"] == "all") & drift["verdict"].isin(CLAIMS)]
    yield Note(CONTROL_TAKEN_OUT, (name, tuple(dict.fromkeys(shown["quantity"].astype(str)))))


def _control_gain(
    session: Session, measurements: Measurements, control: DifferenceRows
) -> Iterator[Note]:
    """Say when the control's own hiss and level moved together: that is the gain."""
    gains = [g for g in find_gain(session, measurements, control).confounds if g.found]
    sizes = [gain.estimate for gain in gains if gain.estimate is not None]
    if sizes:
        yield Note(CONTROL_GAIN, (sum(sizes) / len(sizes),))


def _one_session(session: Session, spec: ComparisonSpec) -> Iterator[Note]:
    yield Note(ONE_SESSION, (spec.before, spec.after, len(repeat_pairs(session))))


def _of_voices(session: Session, spec: ComparisonSpec) -> Iterator[Note]:
    if spec.one_sitting:
        yield Note(ONE_SITTING)
        return
    yield from _two_instruments(session, spec)
    yield Note(VOICE_AND_STAGE, spec.stages)


def _few(rows: pd.DataFrame) -> Iterator[Note]:
    compared = rows[(rows["n_notes"] > 0) & (rows["n_before"] > 0) & (rows["n_after"] > 0)]
    played = compared[compared["note"].map(is_played).astype(bool)]
    names = set(played["note"])
    if names:
        riffs = sum(is_passage(name) for name in names)
        least = played.groupby("note")[["n_before", "n_after"]].max().min()
        times = (int(least["n_before"]), int(least["n_after"]))
        yield Note(PLAYED, (riffs, len(names) - riffs, *times, TIMES_TO_PLAY))
    if names and names == set(compared["note"]) - {"all"}:
        return
    over_notes = rows[(rows["note"] == "all") & (rows["n_notes"] > 0)]
    if over_notes.empty:
        return
    notes = int(over_notes["n_notes"].max())
    if notes < FEWEST_NOTES:
        yield Note(FEW_NOTES, (notes, FEWEST_NOTES))
    plucks = over_notes[["n_before", "n_after"]].min(axis=1).max() / max(notes, 1)
    if plucks < FEWEST_PLUCKS:
        yield Note(FEW_PLUCKS, (FEWEST_PLUCKS, PLUCKS_TO_RECORD))


def _quiet(rows: pd.DataFrame) -> Iterator[Note]:
    hum = rows[(rows["quantity"] == "hum_dbfs") & rows["ci_low"].notna()]
    if len(hum) and (hum[["n_before", "n_after"]].min(axis=1) < 2).any():
        yield Note(ONE_STRETCH)
