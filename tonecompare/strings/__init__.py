"""How does a string sound whose truth is known? A physical model for demo takes and tests.

Rendering
    :func:`render_recording` quiet, then plucks of one voice, with noise; truth in closed form
    :func:`render_partials` plain damped partials, exact levels
    :func:`write_demo` the demo session
Playing
    :func:`plucks_in_turn`, :func:`vary_plucks`, :class:`PluckSpec`, :class:`Spread`, :class:`Tone`
Instruments and wiring
    :func:`standard_instrument`, :func:`standard_strings`, :func:`single_coil`, :func:`humbucker`,
    :func:`split_coil`, :func:`coil_line_dbfs`, :func:`resonance`; :class:`InstrumentSpec`,
    :class:`StringSpec`, :class:`Coil`, :class:`Circuit`, :class:`Magnetic`, :class:`Piezo`,
    :class:`Channel`, :class:`VoiceSpec`, :class:`NoiseSpec`, :class:`Burst`
Truth
    :class:`Rendered`, :class:`RecordingTruth`, :class:`ChannelTruth`, :class:`PluckTruth`,
    :class:`OutputTruth`

Left out of the model: pitch glide of hard plucks, body resonances, strings that wake each other
(play a soft pluck on another string for that), and a mains frequency that wanders in a recording.
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
    "standard_instrument": "instruments",
    "standard_strings": "instruments",
    "single_coil": "instruments",
    "humbucker": "instruments",
    "split_coil": "instruments",
    "coil_line_dbfs": "noise",
    "resonance": "filters",
    "InstrumentSpec": "model",
    "StringSpec": "model",
    "PluckSpec": "model",
    "Coil": "model",
    "Circuit": "model",
    "Magnetic": "model",
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
