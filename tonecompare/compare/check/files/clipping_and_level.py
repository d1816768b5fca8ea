"""Levels of a file: clipping, peaks between the samples, too quiet, an offset, digital silence."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tonecompare.compare.check.check_phrases import at_times, decibels, plain, plucks_word, signed
from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.takes.file_faults import DC_OFFSET, DIGITAL_SILENCE_S

#: A loudest peak below this leaves the hiss of the converter within reach of the partials.
TOO_QUIET_DBFS = -36.0
#: A median signal to noise below this leaves no decay range (T20 needs 25 dB and some room).
TOO_NOISY_DB = 30.0


def level_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the faults of level of every file."""
    snr = checked.plucks.groupby("file")["snr_db"].median().to_dict()
    for file in checked.files:
        yield from _clipping(file)
        yield from _too_quiet(file, float(snr.get(file.file, np.nan)))
        yield from _offset(file)


def _clipping(file: Inspected) -> Iterator[Fault]:
    if file.clipped_s:
        hit = [
            p for p in file.plucks if any(p.onset_s - 0.001 <= t < p.end_s for t in file.clipped_s)
        ]
        yield fault_of(
            file,
            "clipping",
            "again",
            time_s=file.clipped_s[0],
            what=f"The wave is cut flat at {plain(decibels(file.peak))} dBFS "
            f"({at_times(file.clipped_s)}; {plucks_word(len(hit))}).",
            why="Level, attack and upper partials of these plucks are the converter's, not the "
            "guitar's.",
            remedy="Lower the input gain by 6 dB and record this voice again; record every other "
            "voice at that gain too, in this stage and the next.",
            plucks=[p.number for p in hit],
        )
    elif file.peak_between > 1.0:
        yield fault_of(
            file,
            "inter-sample over",
            "note",
            time_s=file.peak_between_s,
            what=f"Between the samples the wave goes {plain(decibels(file.peak_between), 2)} dB "
            f"over full scale at {file.peak_between_s:.2f} s.",
            why="Players and codecs that resample clip it; the next harder pluck clips here.",
            remedy="The numbers are good. Leave 6 dB of headroom in the next recording.",
        )


def _too_quiet(file: Inspected, snr_db: float) -> Iterator[Fault]:
    if not file.plucks:
        return
    peak_dbfs = decibels(file.peak)
    if peak_dbfs < TOO_QUIET_DBFS:
        text = f"The loudest sample is at {plain(peak_dbfs)} dBFS."
    elif snr_db < TOO_NOISY_DB:
        text = f"The plucks stand only {plain(snr_db, 0)} dB above the quiet (median)."
    else:
        return
    yield fault_of(
        file,
        "too quiet",
        "again",
        time_s=file.peak_s,
        what=text,
        why="Upper partials and the end of the decay drown in noise.",
        remedy="Check volume knob, cable and input; raise the gain until hard plucks peak near "
        "−9 dBFS, and record every voice at that gain.",
    )


def _offset(file: Inspected) -> Iterator[Fault]:
    if abs(file.offset) > DC_OFFSET:
        yield fault_of(
            file,
            "DC offset",
            "note",
            what=f"The wave sits {signed(100.0 * file.offset, 2)} % of full scale off zero.",
            why="It was taken out before measuring, but it costs headroom and clicks at cuts.",
            remedy="Look for a plug-in or an interface that adds it before the next recording.",
        )
    if file.silence_s >= DIGITAL_SILENCE_S:
        yield fault_of(
            file,
            "digital silence",
            "again",
            what=f"{file.silence_s:.1f} s in one go hold one and the same sample value.",
            why="A gate, noise removal or an edit replaced what was recorded: hum, hiss and the "
            "end of the decays are gone.",
            remedy="Switch the gate off and record it again, or use the untouched file.",
        )
