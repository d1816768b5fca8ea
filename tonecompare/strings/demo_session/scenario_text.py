"""The texts that stand beside the demo recordings."""

from __future__ import annotations

SESSION_TOML = """\
# Demo session. All guitars are invented; every recording is synthetic. See README.md.
title = "Heron rewound and three terns (synthetic demo)"

[instruments.heron]
scale_length_mm = 648
tuning = ["E2", "A2", "D3", "G3", "B3", "E4"]

[instruments.plover]
scale_length_mm = 628
tuning = ["E2", "A2", "D3", "G3", "B3", "E4"]

# Three guitars of one model are sisters: they differ before anyone touches them.
[instruments.tern-one]
model = "tern"
scale_length_mm = 635

[instruments.tern-two]
model = "tern"
scale_length_mm = 635

[instruments.tern-three]
model = "tern"
scale_length_mm = 635

[conditions.first-visit]
interface_gain_db = 20
input_impedance_ohm = 1_000_000
cable_length_m = 4.2
cable_pf_per_m = 100
strings_gauge = "010-046"
strings_hours = 6
pick = "0.88 mm"
room = "bench by the window"

[conditions.second-visit]
interface_gain_db = 20
input_impedance_ohm = 1_000_000
cable_length_m = 4.2
cable_pf_per_m = 100
strings_gauge = "010-046"
strings_hours = 9
pick = "0.88 mm"
room = "bench by the window"

[conditions.sisters-visit]
interface_gain_db = 20
input_impedance_ohm = 1_000_000
cable_length_m = 4.2
cable_pf_per_m = 100
strings_gauge = "010-046"
strings_hours = 2
pick = "0.88 mm"
room = "bench by the window"

[stages.heron-stock]
instrument = "heron"
date = 2026-03-07
conditions = "first-visit"

[stages.heron-rewound]
instrument = "heron"
from = "heron-stock"
date = 2026-03-21
conditions = "second-visit"
work = [
    { what = "bridge pickup rewound hotter, four-conductor lead", parts_cost = 24, hours = 2.5 },
    { what = "push-pull pot for the coil split", parts_cost = 9, hours = 1 },
]

[stages.heron-piezo]
instrument = "heron"
from = "heron-rewound"
date = 2026-03-22
conditions = "second-visit"
work = [{ what = "saddle piezo, preamp and blend control", parts_cost = 145, hours = 4 }]

[stages.plover-first]
instrument = "plover"
date = 2026-03-07
conditions = "first-visit"

[stages.plover-second]
instrument = "plover"
from = "plover-first"
date = 2026-03-21
conditions = "second-visit"

[stages.tern-stock]
instrument = "tern-one"
date = 2026-04-11
conditions = "sisters-visit"

[stages.tern-light]
instrument = "tern-two"
from = "tern-stock"
date = 2026-04-11
conditions = "sisters-visit"
work = [{ what = "cavities screened, pots of a higher value", parts_cost = 18, hours = 2 }]

[stages.tern-full]
instrument = "tern-three"
from = "tern-stock"
date = 2026-04-11
conditions = "sisters-visit"
work = [
    { what = "two hotter pickups, coil split at the bridge", parts_cost = 210, hours = 4 },
    { what = "saddle piezo and preamp", parts_cost = 145, hours = 4 },
    { what = "cavities screened", parts_cost = 12, hours = 1.5 },
]

[voices.bridge]
pickups = ["bridge"]

[voices.bridge-split]
pickups = ["bridge"]
split = true
pickup_distance_mm = 54

[voices.neck]
pickups = ["neck"]

[voices.bridge-and-piezo]
pickups = ["bridge", "saddle"]
outputs = ["magnetic", "piezo"]

[voices.piezo]
pickups = ["saddle"]
output = "piezo"

[voices.blend]
pickups = ["bridge", "saddle"]
output = "blend"

[[comparisons]]
before = "heron-stock"
after = "heron-rewound"
control_before = "plover-first"
control_after = "plover-second"

[[comparisons]]
before = "heron-rewound"
after = "heron-piezo"

[[comparisons]]
before = "tern-stock"
after = "tern-light"

[[comparisons]]
before = "tern-stock"
after = "tern-full"

[worth]
currency = "EUR"
hourly_rate = 45
"""

README = """\
# Demo session

**Synthetic.** None of these guitars exists; nobody was recorded. Every file was computed by this project's
model of strings, pickups and a player (`tonecompare/strings`), with fixed seeds. Each recording is
2.5 s of quiet, then five plucks (the three terns: three) of each open string, E2 to E4, every pluck
damped by a hand shortly before the next. Make a report of it with `tonecompare report`, and hold that report
against what truly happened:

## What was done to heron
| stage | truth |
|---|---|
| heron-stock | humbucker at the bridge (45 mm, coils at 36 and 54 mm) and at the neck (158 mm) |
| heron-rewound | bridge pickup rewound: 3 dB more from string and mains field per coil; 4.3 H, 8.1 kΩ become 6.6 H, 13.2 kΩ, so the loaded resonance falls from 3.37 to 2.70 kHz; coil mismatch 8 % becomes 4 %. New voice `bridge-split`: the coil at 54 mm alone (half of L and R), which hums. Neck pickup untouched |
| heron-piezo | saddle piezo with digital preamp: 350 µs late, inverted, string 3 seated badly (−5 dB). `bridge-and-piezo` carries magnetic and piezo on two channels; `blend` is 40 % piezo and 60 % magnetic. The bridge voice was not touched |

## Three guitars of one model
| stage | truth |
|---|---|
| tern-stock | as it was sold: humbuckers at the bridge (45 mm) and at the neck (152 mm), 4.1 H, 7.8 kΩ, coil mismatch 6 % |
| tern-light | another guitar of the model: born 0.4 dB louder, its strings lose 4 % more. Work: buzz 9 dB lower by screening; the pots' load rises from 180 to 330 kΩ, so the resonance stands higher above its neighbours |
| tern-full | a third one: born 0.3 dB softer, its strings lose 3 % less. Work: pickups that give 6 dB (bridge) and 2.5 dB (neck) more (7.0 H, 14 kΩ, coil mismatch 3 %), buzz 9 dB lower; new voices `bridge-split` (the coil at 54 mm) and `piezo` |

All three were recorded on one day at one gain, with one hand and one set of strings. A report
cannot tell the work from what the guitars were born with: only tern-stock itself, recorded again
after work, or three unmodified terns could.

## What changed without anybody working on it
| what | truth |
|---|---|
| interface gain | 1.0 dB higher on the second visit, although `session.toml` says it was the same: level, hum and hiss rise together on both guitars |
| pick position | the neck voice of heron-rewound was picked 132 mm from the bridge, before 120 mm: its partials differ although the pickup is the same |
| strings and hand | on the second visit decay 2 % shorter, 0.1 dB harder, 0.4 cents sharper, pick angle 1° different |
| mains | 49.98 Hz on the first visit, 50.03 Hz on the second (±0.01 Hz from file to file) |
| control | plover was left alone; what changes on it is the session |

From pluck to pluck the player varies by about 0.6 dB in level, 3 mm in pick position, 4 % in decay
and 0.45 cents in pitch (standard deviations), as real takes do.

## How it was made
`tonecompare demo FOLDER` writes this folder again: 44.1 kHz, 16 bit FLAC. The decoded samples are
what is pinned by a test; the bytes of a FLAC file also depend on the version of the FLAC coder
inside libsndfile (these: libsndfile 1.2.2), and another processor's linear algebra may move single
samples by one step of 16 bit.
"""  # noqa: E501
