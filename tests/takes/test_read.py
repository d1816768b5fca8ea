"""Reading one audio file: what comes back, and a clear sentence for each unusable file."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tonecompare.errors import InputError, RecordingError
from tonecompare.takes.read import read_audio

RATE_HZ = 44100


def tone(length_s: float = 1.0, *, rate_hz: int = RATE_HZ) -> np.ndarray:
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    return 0.5 * np.sin(2 * np.pi * 110.0 * t)


@pytest.mark.parametrize(
    ("ext", "subtype", "step"),
    [
        ("wav", "PCM_16", 2.0**-15),
        ("wav", "PCM_24", 2.0**-23),
        ("wav", "FLOAT", 1e-7),
        ("flac", "PCM_24", 2.0**-23),
        ("aiff", "PCM_16", 2.0**-15),
    ],
)
@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_samples_come_back_at_native_rate(
    tmp_path: Path, ext: str, subtype: str, step: float, rate_hz: int
) -> None:
    path = tmp_path / f"nächste “Saite” <1>.{ext}"
    x = np.stack([tone(rate_hz=rate_hz), -0.25 * tone(rate_hz=rate_hz)])
    sf.write(path, x.T, rate_hz, subtype=subtype)
    audio = read_audio(path)
    assert audio.samples.dtype == np.float64
    assert audio.rate_hz == rate_hz
    assert audio.subtype == subtype
    np.testing.assert_allclose(audio.samples, x, atol=step)
    assert audio.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert audio.flags == audio.problems == ()


def test_mono_keeps_one_channel(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", tone(), RATE_HZ)
    assert read_audio(tmp_path / "a.wav").samples.shape == (1, RATE_HZ)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match=r"gone\.wav: does not exist\. Check the name"):
        read_audio(tmp_path / "gone.wav")


def test_empty_file(tmp_path: Path) -> None:
    (tmp_path / "a.wav").touch()
    with pytest.raises(InputError, match=r"is empty \(0 bytes\)\. Export or copy it again"):
        read_audio(tmp_path / "a.wav")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="is a folder"):
        read_audio(tmp_path)


def test_text_renamed(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_text("Notizen zum Einspielen: Steg, Hals, Piezo\n" * 9)
    with pytest.raises(RecordingError, match="is not audio: it holds text"):
        read_audio(tmp_path / "a.wav")


def test_other_bytes(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).integers(0, 256, 4000, dtype=np.uint8)
    (tmp_path / "a.wav").write_bytes(noise.tobytes())
    with pytest.raises(RecordingError, match="not audio in a format that can be read"):
        read_audio(tmp_path / "a.wav")


def test_broken_header(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", tone(), RATE_HZ)
    (tmp_path / "b.wav").write_bytes((tmp_path / "a.wav").read_bytes()[:30])
    with pytest.raises(RecordingError, match="header is broken or cut off"):
        read_audio(tmp_path / "b.wav")


@pytest.mark.parametrize("ext", ["wav", "flac"])
def test_truncated_is_read_as_far_as_it_goes(tmp_path: Path, ext: str) -> None:
    whole = tmp_path / f"whole.{ext}"
    rng = np.random.default_rng(2)
    sf.write(whole, 0.1 * rng.standard_normal(4 * RATE_HZ), RATE_HZ, subtype="PCM_16")
    data = whole.read_bytes()
    cut = tmp_path / f"cut.{ext}"
    cut.write_bytes(data[: len(data) // 2])
    audio = read_audio(cut)
    assert 1.2 * RATE_HZ < audio.samples.shape[1] < 2.1 * RATE_HZ
    np.testing.assert_array_equal(
        audio.samples, read_audio(whole).samples[:, : audio.samples.shape[1]]
    )
    assert audio.flags == ("truncated",)
    assert "header promises 4.00 s" in audio.problems[0]


def test_a_chunk_of_odd_length_is_padded(tmp_path: Path) -> None:
    """RIFF (Microsoft/IBM 1991): chunks begin on even bytes, a pad byte follows an odd one."""
    path = tmp_path / "odd.wav"
    sf.write(path, tone(), RATE_HZ, subtype="PCM_16")
    data = path.read_bytes()
    at = data.index(b"data")
    odd = b"note" + (5).to_bytes(4, "little") + b"hello" + b"\0"
    size = (len(data) + len(odd) - 8).to_bytes(4, "little")
    cut = data[:4] + size + data[8:at] + odd + data[at : at + 8 + RATE_HZ]
    path.write_bytes(cut)
    # Half of the second that the data chunk promises is there.
    audio = read_audio(path)
    assert audio.samples.shape[1] == RATE_HZ // 2
    assert audio.flags == ("truncated",)
    assert "header promises 1.00 s, 0.50 s are there" in audio.problems[0]


def test_unfilled_wav_size_is_no_truncation(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    sf.write(path, tone(), RATE_HZ, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    at = data.index(b"data") + 4
    data[at : at + 4] = b"\xff\xff\xff\xff"
    path.write_bytes(bytes(data))
    assert read_audio(path).flags == ()


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_not_a_number(tmp_path: Path, bad: float) -> None:
    x = tone()
    x[4410:4413] = bad
    sf.write(tmp_path / "a.wav", x, RATE_HZ, subtype="FLOAT")
    with pytest.raises(RecordingError, match=r"3 samples that are not numbers .* at 0\.100 s"):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize("size", [1e20, 3e38])
def test_numbers_beyond_all_scale(tmp_path: Path, size: float) -> None:
    x = tone()
    x[100] = size
    sf.write(tmp_path / "a.wav", x, RATE_HZ, subtype="FLOAT")
    said = re.escape(f"samples of {size:.0e} times full scale")
    with pytest.raises(RecordingError, match=said):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize("level", [0.0, 0.25])
def test_silent(tmp_path: Path, level: float) -> None:
    sf.write(tmp_path / "a.wav", np.full(RATE_HZ, level), RATE_HZ)
    with pytest.raises(RecordingError, match="is silent: every sample is the same"):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize(("n", "said"), [(0, "holds no samples"), (441, r"lasts only 0\.010 s")])
def test_too_short(tmp_path: Path, n: int, said: str) -> None:
    sf.write(tmp_path / "a.wav", tone()[:n], RATE_HZ)
    with pytest.raises(RecordingError, match=said):
        read_audio(tmp_path / "a.wav")


def test_three_channels(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", np.stack([tone()] * 3, axis=1), RATE_HZ)
    with pytest.raises(RecordingError, match="has 3 channels; one or two are expected"):
        read_audio(tmp_path / "a.wav")


def test_impossible_rate(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", tone(), 440)
    with pytest.raises(RecordingError, match="recorded at 440 Hz, outside 4000"):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize("subtype", ["GSM610", "ULAW", "IMA_ADPCM", "NMS_ADPCM_16"])
def test_codings_for_speech_are_read_and_named(tmp_path: Path, subtype: str) -> None:
    # Of GSM and NMS, libsndfile reads on and cannot go back.
    path = tmp_path / "a.wav"
    sf.write(path, tone(2.0), RATE_HZ, subtype=subtype)
    audio = read_audio(path)
    assert audio.length_s == pytest.approx(2.0, abs=0.1)
    assert f"lossy-coded ({subtype})" in audio.problems[0]


@pytest.mark.parametrize(("ext", "subtype"), [("ogg", "VORBIS"), ("mp3", "MPEG_LAYER_III")])
def test_lossy_source_is_named(tmp_path: Path, ext: str, subtype: str) -> None:
    path = tmp_path / f"a.{ext}"
    sf.write(path, tone(2.0), RATE_HZ, format=ext.upper(), subtype=subtype)
    audio = read_audio(path)
    assert audio.flags == ("lossy",)
    assert f"lossy-coded ({subtype})" in audio.problems[0]


def test_what_a_phone_writes_is_told_how_to_convert_whatever_it_is_called(tmp_path):
    for name in ("neck.m4a", "neck.wav"):
        path = tmp_path / name
        path.write_bytes(b"\0\0\0\x20ftypM4A " + bytes(200))
        with pytest.raises(RecordingError, match="WAV, 24 bit") as caught:
            read_audio(path)
        assert "audio editor" in str(caught.value)


@pytest.mark.parametrize(
    ("tag", "called"),
    [(0x0055, "MP3"), (0x0161, "Windows Media Audio 2"), (0x2000, "Dolby AC-3"),
     (0x4321, "format 0x4321")],
)  # fmt: skip
@pytest.mark.parametrize("extensible", [False, True])
def test_a_wave_file_in_a_codec_names_it_and_says_what_to_export(
    tmp_path: Path, tag: int, called: str, extensible: bool
) -> None:
    first = 0xFFFE if extensible else tag
    sub_format = tag.to_bytes(2, "little") + bytes.fromhex("000000001000800000aa00389b71")
    rest = (2, 2, RATE_HZ, 8000, 4, 0, 22, 16, 3)
    sizes = (2, 2, 4, 4, 2, 2, 2, 2, 4)
    fmt = first.to_bytes(2, "little") + b"".join(
        value.to_bytes(size, "little") for value, size in zip(rest[1:], sizes[1:], strict=True)
    )
    fmt += sub_format
    body = b"WAVEJUNK" + (4).to_bytes(4, "little") + bytes(4) + b"fmt "
    body += len(fmt).to_bytes(4, "little") + fmt + b"data" + (9000).to_bytes(4, "little")
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF" + (len(body) + 9000).to_bytes(4, "little") + body + bytes(9000))
    with pytest.raises(RecordingError, match=f"coded as {re.escape(called)}.*PCM"):
        read_audio(path)
