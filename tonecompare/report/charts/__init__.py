"""How is it drawn? Each chart takes results, returns a Figure, keeps no global state.

spectrum_chart    averaged spectrum before and after, with difference and spread
partials_chart    levels of the partials
decay_chart       decay curves
hum_chart         spectrum of the quiet with the mains lines marked
overview_chart    differences in hearing thresholds with their intervals
response_chart    the response of the change with its band
voices_chart      level, bands and hum of every voice of a stage
"""

from __future__ import annotations

from tonecompare.lazy import lazily

_HOME = {
    "decay_chart": "in_time.decay",
    "hum_chart": "hum",
    "overview_chart": "overview",
    "partials_chart": "partials",
    "response_chart": "response",
    "spectrum_chart": "spectrum",
    "voices_chart": "voices",
}

__all__ = [
    "decay_chart",
    "hum_chart",
    "overview_chart",
    "partials_chart",
    "response_chart",
    "spectrum_chart",
    "voices_chart",
]

__getattr__, __dir__ = lazily(__name__, _HOME)
