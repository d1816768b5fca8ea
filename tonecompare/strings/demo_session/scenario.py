"""The invented demo session: its guitars, what was done to them, and how they were played.

Every number here is made up. ``heron`` gets a hotter bridge pickup with a coil split, later a
saddle piezo with preamp and blend; ``plover`` is left alone and recorded on both visits. Three
guitars of one model stand beside them (:mod:`tonecompare.strings.demo_session.sisters`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tonecompare.strings.demo_session.recipe import (
    LONG_CABLE_F,
    DemoRecording,
    Planned,
    Visit,
    guitar,
    louder,
    played,
)
from tonecompare.strings.demo_session.sisters import SISTERS_PLAN
from tonecompare.strings.instruments import humbucker, single_coil, split_coil
from tonecompare.strings.model import Channel, Circuit, Magnetic, Piezo, PluckSpec

_SPACING_S = {6: 2.5, 5: 2.4, 4: 2.2, 3: 2.0, 2: 1.9, 1: 1.8}
_LIKE = PluckSpec(0.0, 1)
#: Changes between the visits that are not the work: the gain, another day's hand, strings a few
#: hours older.
FIRST = Visit("first", 0.0, 49.98, _LIKE, 5, 2.5, _SPACING_S)
SECOND = Visit(
    "second",
    1.0,
    50.03,
    replace(_LIKE, strength_db=0.1, decay_factor=0.98, angle_deg=31.0, detune_cents=0.4),
    5,
    2.5,
    _SPACING_S,
)
#: The rewound coils have more turns: more of the string and as much more of the mains field.
REWIND_DB = 3.0

_STOCK_BRIDGE = humbucker(
    45.0,
    sensitivity=0.24,
    mismatch=0.08,
    circuit=Circuit(4.3, 8100.0, 120e-12, 200e3, LONG_CABLE_F),
)
_REWOUND_BRIDGE = louder(
    humbucker(
        45.0,
        sensitivity=0.24,
        mismatch=0.04,
        circuit=Circuit(6.6, 13200.0, 140e-12, 200e3, LONG_CABLE_F),
    ),
    REWIND_DB,
)
_NECK = humbucker(
    158.0,
    sensitivity=0.16,
    mismatch=0.03,
    circuit=Circuit(4.0, 7600.0, 120e-12, 200e3, LONG_CABLE_F),
)
_PIEZO = Piezo(
    sensitivity=0.30,
    capacitance_f=1e-9,
    input_ohm=4.7e6,
    bandwidth_hz=13e3,
    second_polarisation=0.4,
)
#: The piezo's preamp is digital and inverts.
PIEZO_DELAY_US = 350.0
PIEZO_POLARITY = -1
BLEND_RATIO = 0.4

HERON = guitar("heron", scale_length_mm=648.0, seat_db=-5.0)
PLOVER = guitar("plover", scale_length_mm=628.0)
_PLOVER_BRIDGE = single_coil(
    42.0, sensitivity=0.42, circuit=Circuit(2.6, 6200.0, 110e-12, 111e3, LONG_CABLE_F)
)
_PLOVER_NECK = single_coil(
    150.0, sensitivity=0.22, circuit=Circuit(2.3, 5700.0, 110e-12, 111e3, LONG_CABLE_F)
)


def _mag(pickup: Magnetic, visit: Visit) -> tuple[Channel]:
    return (Channel("magnetic", pickup, gain_db=visit.gain_db),)


def _piezo_channel(visit: Visit) -> Channel:
    return Channel(
        "piezo",
        None,
        _PIEZO,
        ratio=1.0,
        delay_us=PIEZO_DELAY_US,
        polarity=PIEZO_POLARITY,
        gain_db=visit.gain_db,
    )


def _blend_channel(visit: Visit) -> Channel:
    return replace(
        _piezo_channel(visit), output="blend", magnetic=_REWOUND_BRIDGE, ratio=BLEND_RATIO
    )


_SPLIT = split_coil(_REWOUND_BRIDGE, coil="far")
_PLAN = (
    Planned("heron-stock", HERON, FIRST, "bridge", _mag(_STOCK_BRIDGE, FIRST), 115.0),
    Planned("heron-stock", HERON, FIRST, "neck", _mag(_NECK, FIRST), 120.0),
    Planned("plover-first", PLOVER, FIRST, "bridge", _mag(_PLOVER_BRIDGE, FIRST), 112.0),
    Planned("plover-first", PLOVER, FIRST, "neck", _mag(_PLOVER_NECK, FIRST), 118.0),
    Planned("heron-rewound", HERON, SECOND, "bridge", _mag(_REWOUND_BRIDGE, SECOND), 115.0),
    Planned("heron-rewound", HERON, SECOND, "bridge-split", _mag(_SPLIT, SECOND), 115.0),
    # Nobody touched the neck pickup, but the pick landed 12 mm further up.
    Planned("heron-rewound", HERON, SECOND, "neck", _mag(_NECK, SECOND), 132.0),
    Planned("plover-second", PLOVER, SECOND, "bridge", _mag(_PLOVER_BRIDGE, SECOND), 112.5),
    Planned("plover-second", PLOVER, SECOND, "neck", _mag(_PLOVER_NECK, SECOND), 117.5),
    Planned("heron-piezo", HERON, SECOND, "bridge", _mag(_REWOUND_BRIDGE, SECOND), 115.0),
    Planned(
        "heron-piezo",
        HERON,
        SECOND,
        "bridge-and-piezo",
        (*_mag(_REWOUND_BRIDGE, SECOND), _piezo_channel(SECOND)),
        115.0,
    ),
    Planned("heron-piezo", HERON, SECOND, "blend", (_blend_channel(SECOND),), 115.0),
)


def demo_recordings() -> Iterator[DemoRecording]:
    """Yield every recording of the demo; the plucks are drawn, the audio is not rendered yet."""
    for number, planned in enumerate((*_PLAN, *SISTERS_PLAN)):
        yield played(planned, number)
