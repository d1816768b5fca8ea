"""What do the takes measure? A room per question; numbers with unit, uncertainty and reason.

Whole sessions
    measure_session     every recording of a session, into tables and curves
    measure_recording   one voice at one stage

One pluck, one quiet
    measure_take        a cut file: numbers per pluck and channel, and per quiet and channel
    measure_pluck       a PluckSignal: all pluck quantities and curves
    measure_quiet       samples of a quiet stretch: hum, buzz, hiss, and the noise to subtract

Data
    Measured, Measurements, Noise, PluckCurves, QuietCurves, PluckSignal
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.measure.measured import Measured
    from tonecompare.measure.model import Measurements, Noise, PluckCurves, QuietCurves
    from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet
    from tonecompare.measure.session import measure_recording, measure_session
    from tonecompare.measure.signal import PluckSignal
    from tonecompare.measure.single_pluck import measure_pluck
    from tonecompare.measure.take import measure_take

_HOME = {
    "Measured": "measured",
    "Measurements": "model",
    "Noise": "model",
    "PluckCurves": "model",
    "PluckSignal": "signal",
    "QuietCurves": "model",
    "measure_pluck": "single_pluck",
    "measure_quiet": "quiet.hum_buzz_hiss",
    "measure_recording": "session",
    "measure_session": "session",
    "measure_take": "take",
}

__all__ = [
    "Measured",
    "Measurements",
    "Noise",
    "PluckCurves",
    "PluckSignal",
    "QuietCurves",
    "measure_pluck",
    "measure_quiet",
    "measure_recording",
    "measure_session",
    "measure_take",
]

__getattr__, __dir__ = lazily(__name__, _HOME)
