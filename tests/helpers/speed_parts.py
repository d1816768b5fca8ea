"""The four things the speed figures compare, on one synthetic recording of 24 plucks."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scipy.fft
import soundfile as sf

from tonecompare import strings as st
from tonecompare.measure.take import measure_take
from tonecompare.measure.voice import VoicePluck, measure_voice
from tonecompare.session.model import STANDARD_TUNING, Recording, Session, Stage
from tonecompare.takes.load import load_takes
from tonecompare.takes.model import Take

RATE_HZ = 48000
LENGTH_S = 100.0
FRAME, HOP = 4096, 1024


def recording(folder: Path, *, repeats: int = 4) -> Path:
    """Write 100 s at 48 kHz: 3 s of quiet, then four times the six open strings (24 plucks)."""
    rng = np.random.default_rng(1)
    voice = st.VoiceSpec("v", (st.Channel("magnetic", st.humbucker(45.0)),))
    notes = [(string, 0) for string in range(6, 0, -1)]
    plucks = st.plucks_in_turn(
        notes, start_s=3.0, spacing_s=4.0, repeats=repeats, damp_before_s=0.25
    )
    noise = st.NoiseSpec(mains_hz=50.02, line_dbfs=(-60.0, -75.0, -68.0), hiss_dbfs=-80.0)
    rendered = st.render_recording(
        st.standard_instrument(), voice, st.vary_plucks(plucks, rng=rng), rng=rng,
        rate_hz=float(RATE_HZ), length_s=4.0 + 24.0 * repeats, noise=noise, subtype="PCM_24",
    )  # fmt: skip
    path = folder / "v.wav"
    rendered.write(path)
    return path


def our_takes(path: Path) -> Take:
    """Read, find plucks and quiet, place onsets, name notes."""
    session = Session("speed", path.parent, {"s": Stage("s", "g", path.parent)}, ())
    takes, _ = load_takes(session, Recording("s", "v", (path,)))
    return takes[0]


def our_measures(take: Take) -> int:
    """Everything measured of a take: plucks, quiet, and the voice as a whole."""
    result = measure_take(take, file="v.wav")
    plucks = [
        VoicePluck(entry, partials)
        for entry, partials in zip(result.plucks, result.partials.values(), strict=True)
    ]
    measure_voice(plucks, comb=True, tuning=STANDARD_TUNING, scale_length_mm=648.0,
                  pickup_distance_mm=None)  # fmt: skip
    return len(result.plucks)


def floor(path: Path, *, frame: int, hop: int, precision: str) -> int:
    """Decode, and take the powers of one pass of Hann frames: what none can do without."""
    samples, _ = sf.read(path, dtype=precision)
    cut = np.lib.stride_tricks.sliding_window_view(samples, frame)[::hop]
    window = np.hanning(frame + 1)[:-1].astype(precision)
    count = 0
    for start in range(0, len(cut), 128):  # as many as stay near the processor
        spectrum = scipy.fft.rfft(cut[start : start + 128] * window, axis=1)
        count += (spectrum.real**2 + spectrum.imag**2).size
    return count


def librosa_script(path: Path) -> int:
    """Straightforward script with librosa's own default frames (2048 every 512 samples).

    It reads the file at its own rate. Onsets, centroid, pyin, harmonics at pyin's pitch, RMS
    decay, hum from an STFT.
    """
    import librosa

    x, _ = librosa.load(path, sr=None)
    onsets = librosa.onset.onset_detect(y=x, sr=RATE_HZ, units="samples", backtrack=True)
    spectrum = np.abs(librosa.stft(x))
    centroid = librosa.feature.spectral_centroid(S=spectrum, sr=RATE_HZ)[0]
    f0, _, _ = librosa.pyin(x, fmin=70.0, fmax=1200.0, sr=RATE_HZ)
    hz = librosa.fft_frequencies(sr=RATE_HZ)
    # Where pyin found no pitch the harmonics are looked up at 100 Hz.
    base = np.where(np.isfinite(f0), f0, 100.0)
    harmonics = librosa.f0_harmonics(spectrum, f0=base, freqs=hz, harmonics=np.arange(1, 25))
    rms = librosa.feature.rms(y=x)[0]
    decays = []
    for start, stop in itertools.pairwise([*onsets, x.size]):
        level = librosa.amplitude_to_db(rms[start // 512 : stop // 512], ref=np.max)
        if level.size > 4:
            decays.append(np.polyfit(np.arange(level.size) * 512 / RATE_HZ, level, 1)[0])
    quiet = np.abs(librosa.stft(x[: 2 * RATE_HZ], n_fft=8192))
    lines = [quiet[round(k * 50.0 * 8192 / RATE_HZ)].mean() for k in range(1, 21)]
    return len(decays) + len(lines) + centroid.size + harmonics.size


def essentia_features() -> Callable[[Path], int] | None:
    """Read a file and take frame-wise C++ features of essentia; None when it is not installed."""
    try:
        import essentia
        import essentia.standard as es
    except ImportError:
        return None
    essentia.log.infoActive = False
    essentia.log.warningActive = False
    window, transform = es.Windowing(type="hann"), es.Spectrum(size=FRAME)
    peaks = es.SpectralPeaks(sampleRate=RATE_HZ, minFrequency=40.0, maxPeaks=100,
                             orderBy="frequency")  # fmt: skip
    pitch = es.PitchYinFFT(frameSize=FRAME, sampleRate=RATE_HZ)
    harmonic = es.HarmonicPeaks(maxHarmonics=24)
    odd_even, tristimulus = es.OddToEvenHarmonicEnergyRatio(), es.Tristimulus()
    inharmonicity, centroid = es.Inharmonicity(), es.Centroid(range=RATE_HZ / 2)

    def run(path: Path) -> int:
        count = 0
        samples, _ = sf.read(path, dtype="float32")
        frames = es.FrameGenerator(samples, frameSize=FRAME, hopSize=HOP)
        for frame in frames:
            spectrum = transform(window(frame))
            centroid(spectrum)
            hz, magnitude = peaks(spectrum)
            f0, _ = pitch(spectrum)
            if f0 > 0.0 and hz.size:
                found_hz, found = harmonic(hz, magnitude, f0)
                odd_even(found_hz, found)
                tristimulus(found_hz, found)
                inharmonicity(found_hz, found)
            count += 1
        return count

    return run
