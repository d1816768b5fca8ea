"""The part of the registry on quiet stretches and on what all plucks of a voice show together.

A contract like the registry itself: add entries at the end, never move or rename one.
"""

from __future__ import annotations

from tonecompare.quantities.entry import Entry, HowCompared, Said

N_HUM_LINES = 10
HUM_LINES = tuple(f"hum_{n:02d}_dbfs" for n in range(1, N_HUM_LINES + 1))
IN_QUIET, OF_A_VOICE = ("quiet",), ("voices",)
_PICKUP_PLACE = Said(
    "Pickup place", "place of the pickup", up="pickup {} farther from the bridge",
    down="pickup {} nearer to the bridge",
)  # fmt: skip

OF_QUIET_AND_VOICES: tuple[Entry, ...] = (
    Entry(
        ("start_s", "length_s"), IN_QUIET, "s",
        "Where the quiet begins in its file, and how long it is.",
        no_error="Where a note or a quiet ends is a decision, made to about 0.01 s.",
    ),
    Entry(
        ("mains_hz",), IN_QUIET, "Hz",
        "The mains frequency as found in the quiet.",
        said=Said("Mains", "mains frequency"),
    ),
    Entry(
        ("hum_dbfs",), IN_QUIET, "dBFS",
        "The mains lines up to 1 kHz together while the strings are damped. Hum "
        "depends on place and direction: only same place, same direction, same gain "
        "compare.",
        said=Said("Hum", "hum", headline=True),
        compared=HowCompared("hum", "noise", ("dB",), threshold="hum", lead=True),
        moved_by={"gain": 1, "mains": 1},
    ),
    Entry(
        HUM_LINES, IN_QUIET, "dBFS",
        "One mains line alone.",
        said=Said("Hum line {n}", "hum line {n}"),
        compared=HowCompared("hum line {n}", "noise", ("dB",), threshold="hum"),
        moved_by={"gain": 1, "mains": 1},
    ),
    Entry(
        ("buzz_dbfs",), IN_QUIET, "dBFS",
        "Mains lines above 1 kHz: dimmers, power supplies, poor screening.",
        said=Said("Buzz", "buzz", headline=True),
        compared=HowCompared("buzz", "noise", ("dB",), threshold="hum"),
        moved_by={"gain": 1, "mains": 1},
    ),
    Entry(
        ("hiss_dbfs",), IN_QUIET, "dBFS",
        "The rest of the noise, 20 Hz to 20 kHz.",
        said=Said("Hiss", "hiss", headline=True),
        compared=HowCompared("hiss", "noise", ("dB",), threshold="noise"),
        moved_by={"gain": 1},
    ),
    Entry(
        ("noise_a_dbfs",), IN_QUIET, "dBFS",
        "All noise, weighted by how well one hears it (A curve of IEC 61672-1).",
        said=Said("Noise (A)", "A-weighted noise"),
        compared=HowCompared("noise, A-weighted", "noise", ("dB",), threshold="noise"),
        moved_by={"gain": 1, "mains": 1},
    ),
    Entry(
        ("signal_to_hum_db",), IN_QUIET, "dB",
        "How far the notes of a voice stand above its hum.",
        said=Said("Signal to hum", "signal-to-hum ratio", headline=True),
        compared=HowCompared("signal to hum", "noise", ("dB",), threshold="hum"),
        moved_by={"mains": 1},
    ),
    Entry(
        ("quiet",), IN_QUIET, "",
        "Number of the quiet stretch in its file, counted from 1.",
        extra=True,
    ),
    Entry(
        ("pickup_point",), OF_A_VOICE, "share",
        "Where the pickup sits: its distance from the bridge as a share of the scale length.",
        said=_PICKUP_PLACE,
        compared=HowCompared("place of the pickup", "pickup", ("share",)),
    ),
    Entry(
        ("pickup_distance_mm",), OF_A_VOICE, "mm",
        "Where the pickup sits: its distance from the bridge, when the scale length is known.",
        said=_PICKUP_PLACE,
        compared=HowCompared("place of the pickup", "pickup", ("mm",)),
    ),
    Entry(
        ("resonance_hz",), OF_A_VOICE, "Hz",
        "The peak of pickup, cable and input together. Above it the sound falls off by 12 dB an "
        "octave, so a lower one takes treble away. How the pick lets go bends the treble too: only "
        "voices that differ tell it apart, and how far it moved is surer than where it lies.",
        said=Said("Resonance", "resonance", up="resonance {} higher", down="resonance {} lower",
                  headline=True),
        compared=HowCompared("resonance of the pickup", "pickup", ("%",), ratio=True,
                          threshold="resonance", lead=True),
        moved_by={"load": 1},
    ),
    Entry(
        ("resonance_q",), OF_A_VOICE, "",
        "How sharp the resonance is: 0.7 has no bump, 2 stands 6 dB out.",
        said=Said("Resonance Q", "sharpness of the resonance", up="resonance {} sharper",
                  down="resonance {} blunter"),
        compared=HowCompared("sharpness of the resonance", "pickup", ("%",), ratio=True),
        moved_by={"load": 1},
    ),
    Entry(
        ("coil_spacing_mm",), OF_A_VOICE, "mm",
        "How far apart the two coils of the pickup are.",
        said=Said("Coil spacing", "distance between the coils", up="coils {} farther apart",
                  down="coils {} closer together"),
        compared=HowCompared("distance between the coils", "pickup", ("mm",)),
    ),
)  # fmt: skip
