"""Seeded bad input: one number makes one case, the same every time.

``python tests/fuzz/cases.py 10000`` runs that many and prints a table of how they ended.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare.errors import InputError
from tonecompare.session import load_session
from tonecompare.session.overrides import stage_overrides
from tonecompare.takes.read import read_audio

#: Longer than this on one case is a hang.
HANG_S = 5.0
_RATES = (1, 3999, 4000, 8000, 22_050, 44_100, 48_000, 96_000, 192_000, 655_360, 768_000, 2**31 - 1)
_SUBTYPES = ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ALAW", "ULAW")
_WORDS = (
    "title", "stages", "=", "[", "]", "[[", '"', "1e999", "nan", "-0", "9" * 5000, "\\u0000", "é",
    "from", "\n", ",", "{", "}", "true", "1979-05-27", "voices", "comparisons", "before",
    "#", "'''",
)  # fmt: skip
_CELLS = ("file", "pluck", "note", "a.wav", "1", "-1", "1e999", "nan", "E2", "H#9", '"', ",", ";",
          "\n", "\r", "\x00", "=1+1", "use", "no", "0.5", "é", "9" * 400, " ")  # fmt: skip


def _samples(rng: np.random.Generator) -> np.ndarray:
    n, channels = int(rng.choice([0, 1, 100, 5000, 20_000])), int(rng.choice([1, 1, 2, 2, 3, 8]))
    kind = rng.integers(7)
    size = 10.0 ** rng.uniform(-9, 3) if kind < 4 else rng.choice([1e20, 3e38, 1e-300, 1.0])
    found = size * rng.standard_normal((n, channels))
    if kind == 1:
        found[:] = size
    if kind == 2 and n:
        found[rng.integers(n)] = rng.choice([np.nan, np.inf, -np.inf])
    return found


def _sound(rng: np.random.Generator) -> bytes:
    """Return a sound file, whole, cut, overwritten in places, or not one at all."""
    if rng.random() < 0.1:
        return rng.bytes(int(rng.integers(2000)))
    kind, data = str(rng.choice(["WAV", "FLAC", "AIFF", "CAF", "RF64", "OGG"])), io.BytesIO()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if kind == "OGG":  # the encoder itself dies of odd rates and numbers
                sf.write(data, 0.1 * np.sin(np.arange(9000.0)), 44_100, format="OGG")
            else:
                coding, found = str(rng.choice(_SUBTYPES)), _samples(rng)
                if coding.endswith("LAW"):  # the writer dies of numbers beyond full scale
                    found = np.clip(np.nan_to_num(found), -1.0, 1.0)
                sf.write(data, found, int(rng.choice(_RATES)), format=kind, subtype=coding)
    except (sf.LibsndfileError, ValueError, TypeError, OverflowError, AssertionError):
        sf.write(data, 0.1 * rng.standard_normal((5000, 1)), 44_100, format="WAV")
    content = bytearray(data.getvalue())
    if rng.random() < 0.3 and content:
        del content[int(rng.integers(len(content))) :]
    for _ in range(int(rng.choice([0, 0, 1, 8]))):
        if content:
            head = min(len(content), 64) if rng.random() < 0.7 else len(content)
            content[int(rng.integers(head))] = int(rng.integers(256))
    return bytes(content)


def _read_sound(folder: Path, rng: np.random.Generator) -> None:
    path = folder / str(rng.choice(["a.wav", "E2.wav", "=1+1.flac", "a\x1b[2J.aiff", "é\n.wav"]))
    path.write_bytes(_sound(rng))
    audio = read_audio(path)
    if not (np.isfinite(audio.samples[:, :]).all() and audio.rate_hz > 0):
        raise AssertionError("samples that are no numbers came through")


def _read_session(folder: Path, rng: np.random.Generator) -> None:
    if rng.random() < 0.15:
        depth = int(rng.integers(1, 3000))
        text = "x = " + "[" * depth + "]" * depth
    else:
        text = " ".join(rng.choice(_WORDS, int(rng.choice([0, 1, 3, 8, 30]))))
    (folder / "session.toml").write_bytes(
        rng.bytes(50) if rng.random() < 0.1 else text.encode("utf-8")
    )
    load_session(folder)


def _read_takes(folder: Path, rng: np.random.Generator) -> None:
    rows = (",".join(rng.choice(_CELLS, int(rng.integers(1, 6)))) for _ in range(rng.integers(6)))
    header = "file,pluck,note,use"[: int(rng.choice([19, 19, 19, 14, 10, 3]))]
    text = "\n".join([header, *rows])
    (folder / "takes.csv").write_bytes(
        rng.bytes(60) if rng.random() < 0.1 else text.encode("utf-8")
    )
    stage_overrides(folder)


KINDS: dict[str, Callable[[Path, np.random.Generator], None]] = {
    "sound": _read_sound, "session.toml": _read_session, "takes.csv": _read_takes,
}  # fmt: skip


def run(number: int) -> tuple[str, str, float]:
    """Run a case: which kind, how it ended ("read", "refused" or a fault) and in how many s."""
    rng = np.random.default_rng(number)
    kind = list(KINDS)[number % len(KINDS)]
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            KINDS[kind](Path(folder), rng)
            ended = "read"
        except InputError as error:
            ended = "refused" if str(error).strip() else "refused without a word"
        except Exception as error:
            ended = f"{type(error).__name__}: {str(error)[:80]}"
    return kind, ended, time.perf_counter() - began


def main(count: int) -> int:
    """Run cases and print a table; return how many ended in a fault or hung."""
    ends: Counter[tuple[str, str]] = Counter()
    bad: list[int] = []
    slowest = 0.0
    for number in range(count):
        kind, ended, took_s = run(number)
        ends[kind, ended] += 1
        slowest = max(slowest, took_s)
        if ended not in ("read", "refused") or took_s > HANG_S:
            bad.append(number)
    for (kind, ended), times in sorted(ends.items()):
        print(f"{times:7d}  {kind:13s} {ended}")
    print(f"slowest {slowest:.2f} s; faults or hangs: {len(bad)} {bad[:20]}")
    return len(bad)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1])) > 0)
