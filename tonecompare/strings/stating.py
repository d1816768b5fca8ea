"""State the truth of a rendering: from specs, modes and noiseless samples to truth objects."""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.strings.instruments import note_name
from tonecompare.strings.model import Channel, InstrumentSpec, Magnetic, NoiseSpec, PluckSpec
from tonecompare.strings.modes import Modes
from tonecompare.strings.noise import hiss_with_quantisation_dbfs
from tonecompare.strings.pickups.sensors import Path as SensorPath
from tonecompare.strings.pickups.sensors import mode_amplitudes
from tonecompare.strings.truth import ChannelTruth, OutputTruth, PluckTruth
from tonecompare.units import amplitude_to_db, mean_square_to_dbfs, power_to_db


def output_truth(
    channel: Channel,
    paths: tuple[SensorPath, ...],
    modes: Modes,
    pluck: PluckSpec,
    alone: FloatArray,
    start_s: float,
    rate_hz: float,
) -> OutputTruth:
    """State one pluck on one channel; ``alone`` are its noiseless samples from ``start_s`` on."""
    onset_s = pluck.time_s + min(path.arrival_s + path.delay_s for path in paths)
    window = slice(*(round((onset_s + t - start_s) * rate_hz) for t in (0.05, 0.55)))
    head = np.abs(alone[: round((onset_s + 0.02 - start_s) * rate_hz)])
    return OutputTruth(
        output=channel.output,
        onset_s=onset_s,
        motion_s=start_s + crossing(head, 0.01) / rate_hz,
        level_dbfs=float(mean_square_to_dbfs(np.mean(alone[window] ** 2)))
        if alone[window].size
        else float("nan"),
        peak_dbfs=float(amplitude_to_db(np.max(np.abs(alone)))),
        time_s=pluck.time_s,
        partial_hz=modes.rates.imag / (2 * np.pi),
        amplitude=mode_amplitudes(paths, modes, pluck),
        sigma_per_s=-modes.rates.real,
    )


def crossing(magnitude: FloatArray, fraction: float) -> float:
    """Index (interpolated) where a magnitude first exceeds a fraction of its maximum."""
    threshold = fraction * float(np.max(magnitude, initial=0.0))
    above = np.flatnonzero(magnitude > threshold)
    if above.size == 0 or above[0] == 0:
        return float("nan") if above.size == 0 else 0.0
    i = int(above[0])
    return i - float((magnitude[i] - threshold) / (magnitude[i] - magnitude[i - 1]))


def pluck_truth(
    instrument: InstrumentSpec,
    number: int,
    pluck: PluckSpec,
    modes: Modes,
    end_s: float,
    ended_by: str,
    outputs: list[OutputTruth],
) -> PluckTruth:
    """State what was played."""
    open_hz = instrument.string(pluck.string).open_hz
    return PluckTruth(
        number=number,
        time_s=pluck.time_s,
        string=pluck.string,
        fret=pluck.fret,
        note=note_name(open_hz * 2 ** (pluck.fret / 12)),
        position_mm=pluck.position_mm,
        pluck_point=pluck.position_mm / modes.length_mm,
        length_mm=modes.length_mm,
        inharmonicity=modes.inharmonicity,
        end_s=end_s,
        ended_by=ended_by,
        outputs=tuple(outputs),
    )


def channel_truth(
    channel: Channel | None, noise: NoiseSpec, rate_hz: float, bits: int | None
) -> ChannelTruth:
    """Truth of a channel's noise and wiring; None = a plain magnetic channel without coils."""
    channel = channel or Channel("magnetic", Magnetic(()))
    hz = noise.mains_hz * np.arange(1, len(noise.line_dbfs) + 1)
    power = 10 ** (np.asarray(noise.line_dbfs, dtype=np.float64) / 10)
    power[hz >= rate_hz / 2] = 0.0
    # Up to 1 kHz by number, 20 lines at 50 Hz and 16 at 60 Hz, however the mains wanders.
    n_hum = 20 if noise.mains_hz < 55.0 else 16
    return ChannelTruth(
        output=channel.output,
        mains_hz=noise.mains_hz,
        line_dbfs=tuple(noise.line_dbfs),
        hum_dbfs=float(power_to_db(np.sum(power[:n_hum]))),
        buzz_dbfs=float(power_to_db(np.sum(power[n_hum:]))),
        hiss_dbfs=hiss_with_quantisation_dbfs(noise, rate_hz=rate_hz, bits=bits),
        delay_us=channel.delay_us,
        polarity=channel.polarity,
        ratio=channel.ratio,
    )
