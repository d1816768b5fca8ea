"""The columns of the CSV files: a contract. Add columns at the end, never change these."""

from __future__ import annotations

N_PARTIALS = 24
N_DECAY_PARTIALS = 12
N_HUM_LINES = 10

PARTIAL_LEVELS = tuple(f"h{n:02d}_db" for n in range(1, N_PARTIALS + 1))
PARTIAL_DECAYS = tuple(f"decay_h{n:02d}_s" for n in range(1, N_DECAY_PARTIALS + 1))
HUM_LINES = tuple(f"hum_{n:02d}_dbfs" for n in range(1, N_HUM_LINES + 1))

MEASUREMENTS = (
    "stage", "voice", "output", "file", "channel", "pluck", "note", "string", "onset_s", "ring_s",
    "f0_hz", "cents", "peak_dbfs", "level_dbfs", "snr_db", "attack_ms", "centroid_hz",
    "tilt_db_per_octave", "odd_even_db", "tristimulus_1", "tristimulus_2", "tristimulus_3",
    *PARTIAL_LEVELS, "decay_s", "decay_early_s", "decay_late_s", *PARTIAL_DECAYS,
    "inharmonicity", "pluck_point", "flags", "ring_along_db", "ring_along_string",
)  # fmt: skip

QUIET = (
    "stage", "voice", "output", "file", "channel", "start_s", "length_s", "mains_hz", "hum_dbfs",
    *HUM_LINES, "buzz_dbfs", "hiss_dbfs", "noise_a_dbfs", "signal_to_hum_db", "flags",
)  # fmt: skip

DIFFERENCES = (
    "comparison", "before", "after", "voice", "output", "note", "quantity", "unit", "before_value",
    "after_value", "difference", "ci_low", "ci_high", "n_before", "n_after", "p_value",
    "p_adjusted", "hearing_threshold", "verdict", "reason",
)  # fmt: skip

BLEND = (
    "stage", "voice", "note", "delay_us", "delay_se_us", "polarity", "coherence",
    "level_difference_db", "transient_magnetic_db", "transient_piezo_db", "fuller_polarity",
    "flags",
)  # fmt: skip
