"""Read one audio file: native rate, float64, channels kept; every failure a clear sentence.

Nothing is resampled or mixed. A file that ends before its header says (a broken copy, a full
disk) is read as far as it goes and flagged ``truncated``; a file with nothing to measure is a
:class:`~tonecompare.errors.RecordingError` that says what is wrong and what to do.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare.arrays import FloatArray
from tonecompare.errors import RecordingError
from tonecompare.language import tr_later
from tonecompare.session.sound_folders import FOREIGN_SUFFIXES, HOW_TO_CONVERT, no_file
from tonecompare.takes.file_samples import BLOCK, FileSamples, can_be_read_in_parts, in_blocks
from tonecompare.takes.model import Audio
from tonecompare.takes.wave_codecs import codec_of_wave

#: Shorter files hold nothing that could be measured.
SHORTEST_S = 0.1
#: Rates outside this range are taken for a broken header.
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4000.0, 768_000.0
#: A peak below this (1 step of 24 bit is 1.2e-7) is called silent.
SILENT_PEAK = 2.5e-7
#: Formats of libsndfile that throw information away.
#: Codings that leave something out: of music, of speech, and samples as steps of a coarse scale.
LOSSY_SUBTYPES = (
    "VORBIS", "OPUS", "MPEG_LAYER_I", "MPEG_LAYER_II", "MPEG_LAYER_III", "GSM610", "ULAW", "ALAW",
    "IMA_ADPCM", "MS_ADPCM", "VOX_ADPCM", "G721_32", "G723_24", "G723_40", "NMS_ADPCM_16",
    "NMS_ADPCM_24", "NMS_ADPCM_32",
)  # fmt: skip

#: Longer files are no takes; what the frames of one hour weigh is the most that is kept of a file.
LONGEST_HOURS = 1.5
#: Longer than this, a file with more samples a byte is digital silence: the noise of any converter
#: takes a quarter of a byte a sample or more.
_UNFOLDED_HOURS, _UNFOLDED = 0.2, 10
#: Files whose samples take more bytes stay on the disk and are read in parts.
_LARGEST_WHOLE = 48 << 20
#: Larger samples (2^31 is the scale of 32-bit whole numbers) are a misread file, no loud one.
HIGHEST_PEAK = 1e10

_BLOCK, _SMALL_BLOCK = 1 << 23, 1 << 14
_AGAIN = tr_later("Export or copy it again from the recording program.")
#: Sizes a program leaves in a WAV header when it never came back to fill in the right one.
_UNFILLED_SIZES = (0, 0x7FFFFFFF, 0xFFFFFFFF)


def read_audio(path: Path) -> Audio:
    """Read a file that libsndfile knows (WAV, FLAC, AIFF and others).

    Parameters
    ----------
    path
        The audio file.

    Returns
    -------
    Audio
        ``samples`` of shape (channels, n), float64, full scale 1.0. ``flags`` and ``problems``
        name what is wrong with the file itself: ``truncated``, ``lossy``.

    Raises
    ------
    RecordingError
        Missing, empty, not audio, more than two channels, too short, silent, with samples that
        are not numbers or beyond all scale, or with an impossible rate.
    """
    head = head_of(path)
    with path.open("rb") as whole:
        sha256 = hashlib.file_digest(whole, "sha256").hexdigest()
    try:
        with sf.SoundFile(os.fsencode(path)) as file:  # as bytes, so that any name will do
            rate_hz, promised, subtype = float(file.samplerate), int(file.frames), file.subtype
            _check_header(path, rate_hz=rate_hz, channels=file.channels)
            _check_length(path, promised, channels=file.channels, rate_hz=rate_hz)
            samples = _in_parts(path, file)
            if samples is None:
                if file.seekable():
                    file.seek(0)
                samples = _read_blocks(file)
    except sf.LibsndfileError as error:
        raise not_understood(path, head) from error
    except (OSError, RuntimeError, ValueError) as error:
        if isinstance(error, RecordingError):
            raise
        raise RecordingError(path, tr_later("cannot be read as audio"), _AGAIN) from error
    promised = max(promised, _frames_in_riff_header(path, channels=samples.shape[0]))
    flags, problems = _source_problems(samples.shape[1], promised, rate_hz=rate_hz, subtype=subtype)
    audio = Audio(
        path=path,
        samples=samples,
        rate_hz=rate_hz,
        subtype=subtype,
        sha256=sha256,
        flags=flags,
        problems=problems,
    )
    _check_samples(audio)
    return audio


def head_of(path: Path) -> bytes:
    """Return the first bytes of a file that is there, ends and can be read.

    Raises
    ------
    RecordingError
        Missing, empty, a folder, or nothing that could be opened without waiting for ever.
    """
    if path.exists() and not path.is_file() and not path.is_dir():  # it might never end
        raise no_file(path)
    try:
        with path.open("rb") as file:
            head = file.read(512)
    except FileNotFoundError as error:
        raise RecordingError(
            path, tr_later("does not exist"), tr_later("Check the name and the folder.")
        ) from error
    except IsADirectoryError as error:
        raise RecordingError(
            path,
            tr_later("is a folder, not an audio file"),
            tr_later("Give the files in it."),
        ) from error
    except OSError as error:
        what = tr_later("cannot be opened ({why})", why=str(error.strerror))
        raise RecordingError(path, what, tr_later("Check that you may read it.")) from error
    if not head:
        raise RecordingError(path, tr_later("is empty (0 bytes)"), _AGAIN)
    return head


def not_understood(path: Path, head: bytes) -> RecordingError:
    """Return why libsndfile could not read a file that begins with ``head``."""
    codec = codec_of_wave(head)
    if codec is not None:
        return RecordingError(
            path,
            tr_later("is a WAV file coded as {codec}, which cannot be read here", codec=codec),
            tr_later("Export it as PCM, a 16 or 24 bit WAV or a FLAC file."),
        )
    foreign = head[4:8] == b"ftyp" or path.suffix.lower() in FOREIGN_SUFFIXES
    return RecordingError(path, _why_unreadable(head), HOW_TO_CONVERT if foreign else _AGAIN)


def _check_length(path: Path, n: int, *, channels: int, rate_hz: float) -> None:
    """Refuse what cannot be a take: hours, or next to nothing blown up to many minutes."""
    hours = n / rate_hz / 3600.0
    if hours > LONGEST_HOURS:
        raise RecordingError(
            path,
            tr_later(
                "lasts {hours:.1f} hours; up to {most:g} are measured",
                hours=hours,
                most=LONGEST_HOURS,
            ),
            tr_later("A take lasts minutes: cut it out and give only that."),
        )
    if hours > _UNFOLDED_HOURS and n * channels > _UNFOLDED * path.stat().st_size:
        raise RecordingError(
            path,
            tr_later(
                "unfolds {size_kb:.0f} kB to {minutes:.0f} minutes: that is next to nothing but "
                "digital silence",
                size_kb=path.stat().st_size / 1e3,
                minutes=60 * hours,
            ),
            tr_later("Cut out the take and give only that."),
        )


def _in_parts(path: Path, file: sf.SoundFile) -> FloatArray | None:
    """Return the samples of a large file as parts to be read; None where all is to be read."""
    n, channels = int(file.frames), int(file.channels)
    if 8 * n * channels <= _LARGEST_WHOLE or not can_be_read_in_parts(file):
        return None
    came = 0
    try:
        while len(block := file.read(BLOCK, dtype="float64", always_2d=True)):
            came += len(block)
    except (sf.LibsndfileError, RuntimeError):
        return None
    return FileSamples.of(path, channels, came) if came == n else None


def _read_blocks(file: sf.SoundFile) -> FloatArray:
    """Read until the end or until the decoder gives up, and keep what came."""
    blocks = []
    size, at = _BLOCK, 0
    while True:
        try:
            block = file.read(size, dtype="float64", always_2d=True)
        except (sf.LibsndfileError, RuntimeError):
            if size == _SMALL_BLOCK or not file.seekable():
                break
            # What a large block held before the fault is read again in small ones.
            size = _SMALL_BLOCK
            file.seek(at)
            continue
        if len(block) == 0:
            break
        blocks.append(block)
        at += len(block)
    if not blocks:
        return np.zeros((file.channels, 0))
    whole = blocks[0] if len(blocks) == 1 else np.concatenate(blocks)
    return np.ascontiguousarray(whole.T)


def _frames_in_riff_header(path: Path, *, channels: int) -> int:
    """Frames that the ``data`` chunk of a RIFF/WAVE header promises; 0 when it does not say."""
    with path.open("rb") as file:
        head = file.read(12)
        if head[:4] != b"RIFF" or head[8:12] != b"WAVE" or channels == 0:
            return 0
        block_bytes = 0
        while len(head := file.read(8)) == 8:
            name, size = head[:4], int.from_bytes(head[4:], "little")
            if name == b"data":
                return 0 if size in _UNFILLED_SIZES or not block_bytes else size // block_bytes
            after = file.tell() + size + size % 2
            if name == b"fmt ":
                block_bytes = int.from_bytes(file.read(14)[12:14], "little")
            file.seek(after)
    return 0


def _why_unreadable(data: bytes) -> str:
    """Guess from the first bytes why libsndfile refused the file."""
    if data[:4] in (b"RIFF", b"RF64", b"FORM", b"fLaC", b"OggS", b"caff"):
        return tr_later("starts like an audio file but its header is broken or cut off")
    if data[4:8] == b"ftyp":
        return tr_later(
            "is an MP4/M4A file, which this tool does not read; WAV, FLAC and AIFF work"
        )
    printable = sum(byte in b"\t\n\r" or 32 <= byte < 127 or byte >= 0xC2 for byte in data)
    if b"\0" not in data and printable > 0.95 * len(data):
        return tr_later("is not audio: it holds text")
    return tr_later("is not audio in a format that can be read here; WAV, FLAC and AIFF work")


def _check_header(path: Path, *, rate_hz: float, channels: int) -> None:
    if channels > 2:
        raise RecordingError(
            path,
            tr_later("has {n} channels; one or two are expected (magnetic, piezo)", n=channels),
            tr_later("Export the two channels of the guitar to a file of their own."),
        )
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise RecordingError(
            path,
            tr_later(
                "says it was recorded at {rate_hz:g} Hz, outside {lowest:g}–{highest:g} Hz",
                rate_hz=rate_hz,
                lowest=LOWEST_RATE_HZ,
                highest=HIGHEST_RATE_HZ,
            ),
            tr_later("Record at 44.1, 48 or 96 kHz."),
        )


def _source_problems(
    n: int, promised: int, *, rate_hz: float, subtype: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    flags, problems = [], []
    lossy = subtype in LOSSY_SUBTYPES
    # A lossy decoder may miss its promised length by its own padding; that is no fault.
    if promised - n > (4 * 1152 if lossy else 0):
        flags.append("truncated")
        problems.append(
            tr_later(
                "The file ends early: its header promises {promised_s:.2f} s, {there_s:.2f} s are "
                "there. What is there was used; copy the file again.",
                promised_s=promised / rate_hz,
                there_s=n / rate_hz,
            )
        )
    if lossy:
        flags.append("lossy")
        problems.append(
            tr_later(
                "The file is lossy-coded ({kind}): high partials, hiss and attack are the codec's "
                "as much as the guitar's. Record to WAV or FLAC.",
                kind=subtype,
            )
        )
    return tuple(flags), tuple(problems)


def _check_samples(audio: Audio) -> None:
    path, samples, rate_hz = audio.path, audio.samples, audio.rate_hz
    n = samples.shape[1]
    if n < SHORTEST_S * rate_hz:
        raise RecordingError(
            path,
            tr_later("holds no samples")
            if n == 0
            else tr_later("lasts only {length_s:.3f} s", length_s=n / rate_hz),
            tr_later("Record some quiet, then plucks, each left to ring for seconds."),
        )
    if not np.isfinite(audio.extremes.peak):
        bad = np.concatenate([~np.isfinite(part).all(axis=0) for _, part in in_blocks(samples)])
        raise RecordingError(
            path,
            tr_later(
                "holds {n} samples that are not numbers (NaN or infinite), the first at "
                "{first_s:.3f} s",
                n=int(bad.sum()),
                first_s=float(np.argmax(bad)) / rate_hz,
            ),
            tr_later("Export it again, best as 24-bit WAV or FLAC."),
        )
    if audio.extremes.peak > HIGHEST_PEAK:
        raise RecordingError(
            path,
            tr_later(
                "holds samples of {peak:.0e} times full scale, which no converter gives: its "
                "numbers are in another format than its header says",
                peak=float(audio.extremes.peak),
            ),
            tr_later("Export it again, best as 24-bit WAV or FLAC."),
        )
    if float(audio.extremes.span.max()) < 2 * SILENT_PEAK:
        raise RecordingError(
            path,
            tr_later("is silent: every sample is the same"),
            tr_later("Check cable, volume control and input, and record it again."),
        )
