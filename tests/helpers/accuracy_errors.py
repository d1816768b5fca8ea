"""What comes out of a take of known truth: errors and stated uncertainties, a row each.

The take is written as a file, cut by ``takes.load_takes``, measured by ``measure.measure_take``
and ``measure_voice`` with the strings' numbers given, as a session with a ``takes.csv`` would.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import librosa
import numpy as np
import soundfile as sf
from accuracy_takes import SCALE_MM, CleanTake, NoisyTake

from tonecompare.measure.table import MeasuredSubject, Subject
from tonecompare.measure.take import TakeResult, measure_take
from tonecompare.measure.voice import VoicePluck, measure_voice
from tonecompare.session.model import STANDARD_TUNING, Recording, Session, Stage
from tonecompare.strings.truth import OutputTruth, PluckTruth
from tonecompare.takes.load import load_takes
from tonecompare.takes.model import Take

#: Partials this far above the noise in their own band (one fundamental wide) are judged.
JUDGED_DB = 20.0


@dataclass(frozen=True)
class Error:
    """One quantity once: how far off (unit of the table), the standard uncertainty stated."""

    quantity: str
    snr_db: float
    kind: str
    #: None = not measured.
    error: float | None
    stated: float | None
    where: str = ""


def centroid_truth(clean: CleanTake, pluck: PluckTruth) -> float:
    """Centroid by the definition (design section 5) with librosa on the noiseless samples.

    Hann frames of 0.2 s every 0.1 s over 0.05–1.05 s, mean power, root, 60 Hz–12 kHz, then
    ``librosa.feature.spectral_centroid`` on that one magnitude spectrum.
    """
    rate_hz = clean.layout.rate_hz
    first = round((pluck.onset_s + 0.05) * rate_hz)
    part = clean.samples[first : first + round(rate_hz)]
    size = round(0.2 * rate_hz)
    power = np.abs(
        librosa.stft(part, n_fft=size, hop_length=size // 2, window="hann", center=False)
    )
    magnitude = np.sqrt(np.mean(power**2, axis=1))
    hz = librosa.fft_frequencies(sr=rate_hz, n_fft=size)
    inside = (hz >= 60.0) & (hz <= 12000.0)
    found = librosa.feature.spectral_centroid(S=magnitude[inside, None], freq=hz[inside])
    return float(found[0, 0])


def partial_decay_truth(output: OutputTruth, index: int) -> float:
    """T60 of one partial from -5 to -25 dB of its own energy (both polarisations), closed form."""
    one = replace(
        output,
        partial_hz=output.partial_hz[index : index + 1],
        amplitude=output.amplitude[index : index + 1],
        sigma_per_s=output.sigma_per_s[index : index + 1],
    )
    return one.decay_s(-5.0, -25.0)


def f0_truth(output: OutputTruth) -> float:
    """Partial 1: mean of its two polarisations (up to 1 cent apart) by the energy each rings with.

    The energy of A exp(-sigma t) cos is A²/(4 sigma); it is what a fit over the whole ring weighs.
    """
    weight = np.abs(output.amplitude[0]) ** 2 / output.sigma_per_s[0]
    return float(np.sum(weight * output.partial_hz[0]) / np.sum(weight))


def pick_truth(truth: PluckTruth) -> float:
    """Picking point as a share of the sounding length, from the nearer end.

    |sin(n pi p)| = |sin(n pi (1 - p))|: levels cannot tell a point from its mirror image, and
    nobody picks beyond the middle except high up the neck.
    """
    share = truth.position_mm / truth.length_mm
    return min(share, 1.0 - share)


def cut(noisy: NoisyTake, folder: Path) -> Take | None:
    """Write the take as a file and let load_takes cut it."""
    layout = noisy.clean.layout
    path = folder / "v.wav"
    sf.write(path, noisy.samples, int(layout.rate_hz), subtype=f"PCM_{layout.bits}")
    session = Session("grid", folder, {"s": Stage("s", "g", folder)}, ())
    takes, _ = load_takes(session, Recording("s", "v", (path,)))
    return takes[0] if takes else None


@dataclass(frozen=True)
class Seen:
    """What the measurement says of one take: rows by the number of the true pluck, and the rest."""

    rows: dict[int, MeasuredSubject]
    result: TakeResult
    voice: MeasuredSubject


def seen(noisy: NoisyTake, folder: Path) -> Seen | None:
    """Cut and measure one take, each pluck found given the string that was plucked."""
    take = cut(noisy, folder)
    truths = noisy.clean.plucks
    if take is None:
        return None
    found: dict[int, PluckTruth] = {}
    plucks = []
    for pluck in take.plucks:
        near = min(truths, key=lambda p: abs(p.outputs[0].motion_s - pluck.onset_s))
        if abs(near.outputs[0].motion_s - pluck.onset_s) < 0.02:
            found[pluck.number] = near
            pluck = replace(pluck, string=near.string)
        plucks.append(pluck)
    result = measure_take(replace(take, plucks=tuple(plucks)), file="v.wav")
    voice = measure_voice(
        [
            VoicePluck(entry, partials)
            for entry, partials in zip(result.plucks, result.partials.values(), strict=True)
        ],
        comb=True, tuning=STANDARD_TUNING, scale_length_mm=SCALE_MM,
        pickup_distance_mm=None,
    )  # fmt: skip
    rows = {
        found[entry.subject.pluck].number: entry
        for entry in voice.plucks
        if entry.subject.pluck in found
    }
    return Seen(
        rows, result, MeasuredSubject(Subject("voices", "s", "v"), voice.quantities, voice.flags)
    )


def errors_of(noisy: NoisyTake, folder: Path) -> list[Error]:
    """Cut, measure and compare one take."""
    truths = noisy.clean.plucks
    take = seen(noisy, folder)
    if take is None:
        return [_missing(noisy, "onset_ms", str(p.note)) for p in truths]
    out: list[Error] = []
    for truth in truths:
        row = take.rows.get(truth.number)
        if row is None:
            out.append(_missing(noisy, "onset_ms", f"{truth.string}/{truth.fret}"))
            continue
        out += _of_pluck(noisy, truth, row)
    out += _of_quiet(noisy, take.result)
    voice = take.voice
    out.append(error_of(noisy, "pickup_mm", voice, "pickup_distance_mm",
                        noisy.clean.layout.pickup_mm))  # fmt: skip
    return out


def _missing(noisy: NoisyTake, quantity: str, where: str) -> Error:
    return Error(quantity, noisy.snr_db, noisy.clean.layout.kind, None, None, where)


def error_of(
    noisy: NoisyTake,
    quantity: str,
    row: MeasuredSubject,
    name: str,
    truth: float,
    *,
    per: float = 1.0,
    where: str = "",
) -> Error:
    """(measured - truth)/per with its uncertainty, of one column of a row."""
    value, sd = row.value(name), row.uncertainty(name)
    layout = noisy.clean.layout
    where = f"{layout.kind} {layout.number} {layout.rate_hz:.0f}/{layout.bits} {where}"
    if not isinstance(value, float) or not np.isfinite(value):
        return Error(quantity, noisy.snr_db, layout.kind, None, None, where)
    stated = float(sd) / per if isinstance(sd, float) else None
    return Error(quantity, noisy.snr_db, layout.kind, (value - truth) / per, stated, where)


def _of_pluck(noisy: NoisyTake, truth: PluckTruth, row: MeasuredSubject) -> list[Error]:
    output = truth.outputs[0]
    where = f"s{truth.string} f{truth.fret} pick {truth.position_mm:.0f}"

    def add(quantity: str, name: str, true: float, *, per: float = 1.0) -> Error:
        return error_of(noisy, quantity, row, name, true, per=per, where=where)

    f0_hz = f0_truth(output)
    cent_hz = f0_hz * np.log(2.0) / 1200.0
    centroid = centroid_truth(noisy.clean, truth)
    decay = output.decay_s(-5.0, -25.0)
    out = [
        add("onset_ms", "onset_s", output.motion_s, per=1e-3),
        add("f0_cents", "f0_hz", f0_hz, per=cent_hz),
        add("level_db", "level_dbfs", output.level_dbfs),
        add("centroid_pct", "centroid_hz", centroid, per=centroid / 100.0),
        add("decay_pct", "decay_s", decay, per=decay / 100.0),
        add("pick_mm", "pluck_point", pick_truth(truth), per=1 / truth.length_mm),
    ]
    balance = output.balance_db()
    power = output.partial_mean_square()[:24]
    rate_hz = noisy.clean.layout.rate_hz
    hiss = 0.5 * 10.0 ** (noisy.noise.hiss_dbfs / 10.0) / (min(20000.0, rate_hz / 2.0) - 20.0)
    judged = power > 10.0 ** (JUDGED_DB / 10.0) * hiss * output.f0_hz
    for index in np.flatnonzero(judged):
        name = f"{index + 1:02d}"
        out.append(add("partial_db", f"h{name}_db", float(balance[index])))
        if index < 12:
            true = partial_decay_truth(output, int(index))
            out.append(add("partial_decay_pct", f"decay_h{name}_s", true, per=true / 100.0))
    return out


def _of_quiet(noisy: NoisyTake, result: TakeResult) -> list[Error]:
    if not result.quiets:
        return [_missing(noisy, name, "quiet") for name in ("hum_db", "hiss_db", "mains_mhz")]
    row = max(result.quiets, key=lambda quiet: float(str(quiet.value("length_s"))))
    return [
        error_of(noisy, "hum_db", row, "hum_dbfs", noisy.noise.hum_dbfs),
        error_of(noisy, "hiss_db", row, "hiss_dbfs", noisy.noise.hiss_dbfs),
        error_of(noisy, "mains_mhz", row, "mains_hz", noisy.noise.mains_hz, per=1e-3),
    ]
