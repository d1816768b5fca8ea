"""Three guitars of one model, invented: one as it was sold, one lightly modified, one converted.

They differed before anyone touched them: each has a level, a pickup place and losses of its own.
``tern-light`` got screening and pots of a higher value; ``tern-full`` new pickups with a coil split
and a saddle piezo.
"""

from __future__ import annotations

from tonecompare.strings.demo_session.recipe import LONG_CABLE_F, Planned, Visit, guitar, louder
from tonecompare.strings.instruments import humbucker, split_coil
from tonecompare.strings.model import Channel, Circuit, Magnetic, Piezo, PluckSpec

#: Shorter takes than heron's: three plucks of each string.
VISIT = Visit(
    "sisters",
    0.0,
    50.01,
    PluckSpec(0.0, 1),
    3,
    2.5,
    {6: 2.2, 5: 2.1, 4: 2.0, 3: 1.8, 2: 1.7, 1: 1.6},
)
SCALE_LENGTH_MM = 635.0
#: What each guitar's pickups gave more than the model's, before anyone touched it.
BORN_DB = {"tern-stock": 0.0, "tern-light": 0.4, "tern-full": -0.3}
#: What each guitar's strings lose more than the model's.
BORN_DAMPING = {"tern-stock": 1.0, "tern-light": 1.04, "tern-full": 0.97}
#: By how much screening lowers the electric-field buzz.
SCREENED_DB = 9.0
#: What the new pickups of tern-full give more than those it was born with.
NEW_PICKUPS_DB = {"bridge": 6.0, "neck": 2.5}
#: Volume pots in parallel with the input: sold with, and after the light work.
POT_LOADS_OHM = {"sold": 180e3, "high": 330e3}
#: The coils that tern was sold with: inductance (H), resistance (ohm), coil mismatch.
_SOLD = (4.1, 7800.0, 0.06)
_NEW = (7.0, 14000.0, 0.03)
_PIEZO = Piezo(sensitivity=0.30, capacitance_f=1e-9, input_ohm=4.7e6, bandwidth_hz=13e3)
_PICKS_MM = {"bridge": 112.0, "neck": 118.0}


def _pickup(stage: str, voice: str) -> Magnetic:
    """Return a pickup as it is at a stage: sold or new coils, pots, and what the guitar is born."""
    distance_mm, sensitivity = {"bridge": (45.0, 0.24), "neck": (152.0, 0.15)}[voice]
    inductance, resistance, mismatch = _NEW if stage == "tern-full" else _SOLD
    load = POT_LOADS_OHM["high" if stage == "tern-light" else "sold"]
    made = humbucker(
        distance_mm,
        sensitivity=sensitivity,
        mismatch=mismatch,
        circuit=Circuit(inductance, resistance, 120e-12, load, LONG_CABLE_F),
    )
    gain_db = BORN_DB[stage] + (NEW_PICKUPS_DB[voice] if stage == "tern-full" else 0.0)
    return louder(made, gain_db)


def _planned(stage: str, voice: str, channel: Channel) -> Planned:
    # Three guitars, one set of strings and one hand.
    instrument = guitar(stage, scale_length_mm=SCALE_LENGTH_MM, damping=BORN_DAMPING[stage])
    return Planned(
        stage,
        instrument,
        VISIT,
        voice,
        (channel,),
        _PICKS_MM.get(voice, _PICKS_MM["bridge"]),
        screened_db=0.0 if stage == "tern-stock" else SCREENED_DB,
    )


_SPLIT = split_coil(_pickup("tern-full", "bridge"), coil="far")
SISTERS_PLAN = (
    *(
        _planned(stage, voice, Channel("magnetic", _pickup(stage, voice)))
        for stage in BORN_DB
        for voice in _PICKS_MM
    ),
    _planned("tern-full", "bridge-split", Channel("magnetic", _SPLIT)),
    _planned("tern-full", "piezo", Channel("piezo", None, _PIEZO, ratio=1.0)),
)
