"""How does a string sound whose truth is known? A physical model for demo takes and tests.

Rendering
    :func:`render_recording` quiet, then plucks of one voice, with noise; truth in closed form
    :func:`render_partials` plain damped partials, exact levels
    :func:`write_demo` the demo session
Playing
    :func:`plucks_in_turn`, :func:`vary_plucks`, :class:`PluckSpec`, :class:`Slip`,
    :class:`Spread`, :data:`STEADY_HAND`, :data:`LOOSE_HAND`, :class:`Tone`
Instruments and wiring
    :func:`standard_instrument`, :func:`standard_strings`, :func:`single_coil`, :func:`humbucker`,
    :func:`split_coil`, :func:`in_parallel`, :func:`in_series`, :func:`coil_line_dbfs`,
    :func:`resonance`; :class:`InstrumentSpec`, :class:`StringSpec`, :class:`Coil`,
    :class:`DistanceLaw`, :class:`Circuit`, :class:`Magnetic`, :class:`Parallel`, :class:`Piezo`,
    :class:`Channel`, :class:`VoiceSpec`, :class:`NoiseSpec`, :class:`Burst`
Truth
    :class:`Rendered`, :class:`RecordingTruth`, :class:`ChannelTruth`, :class:`PluckTruth`,
    :class:`OutputTruth`

Off unless asked for: a pickup's distance law (``Coil.law``), the pick's scrape
(``PluckSpec.slip``), the glide of hard plucks (``StringSpec.stretch``), 1/f noise and wandering hum
(``NoiseSpec``). Left out of the model: body resonances, and strings that wake each other (play a
soft pluck on another string for that).
"""

from __future__ import annotations

from tonecompare.lazy import lazily

_HOME = {
    "render_recording": "recording",
    "Rendered": "recording",
    "render_partials": "ideal",
    "Tone": "ideal",
    "write_demo": "demo_session.write_demo_files",
    "plucks_in_turn": "player",
    "vary_plucks": "player",
    "Spread": "player",
    "STEADY_HAND": "player",
    "LOOSE_HAND": "player",
    "in_parallel": "pickups.together",
    "in_series": "pickups.together",
    "standard_instrument": "instruments",
    "standard_strings": "instruments",
    "single_coil": "instruments",
    "humbucker": "instruments",
    "split_coil": "instruments",
    "coil_line_dbfs": "noise",
    "resonance": "pickups.filters",
    "InstrumentSpec": "model",
    "StringSpec": "model",
    "PluckSpec": "model",
    "Coil": "model",
    "Circuit": "model",
    "Magnetic": "model",
    "Parallel": "model",
    "DistanceLaw": "model",
    "Slip": "model",
    "Piezo": "model",
    "Channel": "model",
    "VoiceSpec": "model",
    "NoiseSpec": "model",
    "Burst": "model",
    "RecordingTruth": "truth",
    "ChannelTruth": "truth",
    "PluckTruth": "truth",
    "OutputTruth": "truth",
}
__all__ = sorted(_HOME)

__getattr__, __dir__ = lazily(__name__, _HOME)
