"""Sentences that hold for a whole comparison: what it can show and what could hide in it."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from tonecompare.compare.causes.gain import find_gain
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.quiet_differences import HISS_WANDER_DB, WANDER_DB
from tonecompare.compare.guitar_spread import FEWEST_GUITARS, repeat_pairs, stock_stages
from tonecompare.measure.model import FileRecord, Measurements
from tonecompare.session.model import ComparisonSpec, Session


def comparison_notes(
    session: Session,
    spec: ComparisonSpec,
    measurements: Measurements,
    differences: DifferenceRows,
    control: DifferenceRows,
) -> tuple[str, ...]:
    """Return the notes of one comparison, the weightiest first."""
    rows = to_frame(differences.rows(differences.comparison == spec.name))
    control = control.rows(control.comparison == spec.name)
    drift = to_frame(control)
    return (
        *_missing(spec, measurements),
        *_same_file(spec, measurements),
        *_two_instruments(session, spec),
        *_control(session, spec, rows, drift),
        *_control_gain(session, measurements, control),
        *_one_session(session, spec),
        *_few(rows),
        *_quiet(rows),
    )


def _missing(spec: ComparisonSpec, measurements: Measurements) -> Iterator[str]:
    voices = {
        stage: _voices(measurements, stage)
        for stage in (spec.before, spec.after, spec.control_before, spec.control_after)
        if stage is not None
    }
    for stage, found in voices.items():
        if not found:
            yield f"Stage {stage} has no measured recording: nothing can be compared with it."
    for one, other in ((spec.before, spec.after), (spec.after, spec.before)):
        only = sorted(voices[one] - voices[other])
        if only and voices[other]:
            yield (
                f"Recorded only at {one}, so not compared: {', '.join(only)}. Voices match by "
                "file name."
            )


def _same_file(spec: ComparisonSpec, measurements: Measurements) -> Iterator[str]:
    """Name files that hold the same bytes: at two stages, or twice at one."""
    stages = (spec.before, spec.after, spec.control_before, spec.control_after)
    by_hash: dict[str, list[FileRecord]] = {}
    for record in measurements.files:
        if record.stage in stages and record.sha256:
            by_hash.setdefault(record.sha256, []).append(record)
    for records in by_hash.values():
        if len(records) < 2:
            continue
        names = " and ".join(record.file for record in records)
        yield (
            f"{names} are one and the same file: "
            + (
                "its plucks count more than once, which makes intervals too narrow."
                if len({record.stage for record in records}) == 1
                else "set against each other they can only show no change. Was one copied by "
                "mistake?"
            )
        )


def _voices(measurements: Measurements, stage: str) -> set[str]:
    found: set[str] = set()
    for frame in (measurements.plucks, measurements.quiet):
        if len(frame):
            found |= set(frame.loc[frame["stage"] == stage, "voice"].astype(str))
    return found


def _two_instruments(session: Session, spec: ComparisonSpec) -> Iterator[str]:
    one, other = (_instrument(session, stage) for stage in (spec.before, spec.after))
    if not one or not other or one == other:
        return
    stock = len(stock_stages(session))
    yield (
        f"{one} and {other} are two guitars, which differ before anyone touches them: this says "
        "what differs, not why. "
        + (
            f"{stock} unmodified guitars were recorded; how far they differ among themselves "
            "stands in the table of guitars."
            if stock >= FEWEST_GUITARS
            else "Only the same guitar recorded before the work, or at least three unmodified "
            "guitars of the model, could say more."
        )
    )


def _instrument(session: Session, stage: str | None) -> str:
    known = session.stages.get(stage) if stage is not None else None
    return known.instrument if known else ""


def _control(
    session: Session, spec: ComparisonSpec, rows: pd.DataFrame, drift: pd.DataFrame
) -> Iterator[str]:
    if spec.control_before is None or spec.control_after is None:
        yield (
            "No unchanged instrument was recorded in both sessions. Another gain, cable, room or "
            "place, older strings or another hand could hide in every difference shown."
        )
        return
    name = _instrument(session, spec.control_before) or spec.control_before
    if rows["control_difference"].isna().all():
        yield (
            f"{name} was to be the control but gives no usable drift (it needs at least two notes "
            "recorded in both sessions): nothing was taken out."
        )
        return
    shown = drift[
        (drift["note"] == "all") & drift["verdict"].isin(["likely-audible", "measurable"])
    ]
    moved = ", ".join(dict.fromkeys(shown["label"]))
    yield (
        f"Differences are taken against {name}, which was left unchanged and recorded in both "
        "sessions; its own drift is taken out of them. "
        + (f"Between the sessions it moved in: {moved}." if moved else "It shows no drift itself.")
    )


def _control_gain(
    session: Session, measurements: Measurements, control: DifferenceRows
) -> Iterator[str]:
    """Say when the control's own hiss and level moved together: that is the gain."""
    gains = [g for g in find_gain(session, measurements, control).confounds if g.found]
    sizes = [gain.estimate for gain in gains if gain.estimate is not None]
    if sizes:
        said = f"{sum(sizes) / len(sizes):+.1f}".replace("-", "−")
        yield (
            f"The control's hiss and level moved together, by {said} dB: the gain was another in "
            "the second session. That goes out with its drift."
        )


def _one_session(session: Session, spec: ComparisonSpec) -> Iterator[str]:
    pairs = len(repeat_pairs(session))
    yield (
        f"{spec.before} and {spec.after} were recorded in one session each. The intervals say what "
        "picking and notes explain within these sessions; what another day would bring is not in "
        "them. "
        + (
            f"{pairs} stage{' was' if pairs == 1 else 's were'} recorded again without any work in "
            "between; “Recorded again without work” below shows what that alone changed."
            if pairs
            else "A claim about the work alone needs the set-up made anew, three times or more."
        )
    )


def _few(rows: pd.DataFrame) -> Iterator[str]:
    over_notes = rows[(rows["note"] == "all") & (rows["n_notes"] > 0)]
    if over_notes.empty:
        return
    notes = int(over_notes["n_notes"].max())
    if notes < 3:
        yield (
            f"Only {notes} {'note was' if notes == 1 else 'notes were'} recorded in both stages: "
            "too few to say anything over the notes. Record at least 3, better one on each string."
        )
    plucks = over_notes[["n_before", "n_after"]].min(axis=1).max() / max(notes, 1)
    if plucks < 3:
        yield "Fewer than 3 plucks of each note: single notes can hardly be judged. Record 5."


def _quiet(rows: pd.DataFrame) -> Iterator[str]:
    hum = rows[(rows["quantity"] == "hum_dbfs") & rows["ci_low"].notna()]
    if len(hum) and (hum[["n_before", "n_after"]].min(axis=1) < 2).any():
        yield (
            "With a single quiet stretch of a voice, hum is assumed to wander by "
            f"{WANDER_DB:g} dB and hiss by {HISS_WANDER_DB:g} dB from stretch to stretch; two "
            "stretches or more would show it."
        )
