"""Session folders from a generator of random numbers, most of which can be used as they are."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from sounds_made import real_take, spoilt

#: Names that files, stages and voices may have on a disk of Linux.
NAMES = (
    "neck", "bridge", "Größe äöü", "e\u0301tude", "שלום", "\u202eoverride", "=cmd|'C calc'!A0",
    "+1", "-x", "@sum", "a\x1b[2Jb", "a\x07", "line\nend", "cr\rcr", "tab\there", "x" * 200, "CON",
    "nul", " lead", "trail ", "dot.", "a;b", "a,b", 'quote"s', "<script>alert(1)", "&amp;",
    "100%", "{braces}", "{{x}}", "$PATH", "`id`", "a\\b", "piezo", "blend", "bridge-split", "1",
    "0", "🎸", "\ufeffbom", "neck.1", "E2.1", "all", "None", "nan", "e\u0301", "\u00e9", "ﬁ", "İ",
    "ß",
)  # fmt: skip
_OUTPUTS = ("magnetic", "piezo", "blend")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _one(rng: np.random.Generator, of: Sequence[str]) -> str:
    return of[int(rng.integers(len(of)))]


def _few(rng: np.random.Generator, of: Sequence[str], most: int) -> list[str]:
    """Return different names, plain ones half of the time; names that clash on the disk go."""
    count = int(rng.integers(1, most + 1))
    pool = of[:2] if rng.random() < 0.3 else of
    chosen = [_one(rng, pool) for _ in range(count)]
    return list({name.casefold(): name for name in chosen if name.strip(" .")}.values()) or ["neck"]


def session_text(rng: np.random.Generator, stages: Sequence[str], voices: Sequence[str]) -> str:
    """Return a ``session.toml`` of known keys, nearly always with values they may hold."""
    maybe: Callable[[float], bool] = lambda share: bool(rng.random() < share)  # noqa: E731
    lines = [f"title = {_quoted(_one(rng, NAMES))}"] if maybe(0.7) else []
    lines += [f"mains_hz = {int(rng.choice([50, 60]))}"] if maybe(0.2) else []
    lines += [f"a4_hz = {float(rng.choice([380.0, 440.0, 443.5, 500.0]))}"] if maybe(0.2) else []
    guitars = _few(rng, NAMES, 2)
    for guitar in guitars:
        lines.append(f"[instruments.{_quoted(guitar)}]")
        lines += [f"scale_length_mm = {float(rng.uniform(250, 1300)):.1f}"] if maybe(0.7) else []
        lines += ['tuning = ["E2", "A2", "D3", "G3", "B3", "E4"]'] if maybe(0.5) else []
        lines += ['model = "m"'] if maybe(0.4) else []
    settings = _few(rng, NAMES, 2)
    for each in settings:
        lines.append(f"[conditions.{_quoted(each)}]")
        lines += [f"interface_gain_db = {float(rng.uniform(-100, 100)):.2f}"] if maybe(0.7) else []
        lines += [f"full_scale_volts = {10 ** rng.uniform(-3, 2):.5f}"] if maybe(0.3) else []
        lines += [f"cable_pf_per_m = {int(rng.integers(10, 1000))}"] if maybe(0.3) else []
        lines += [f"strings_hours = {float(rng.uniform(0, 9999)):.3g}"] if maybe(0.3) else []
        lines += [f"room = {_quoted(_one(rng, NAMES))}"] if maybe(0.3) else []
    same = maybe(0.7)
    for number, stage in enumerate(stages):
        guitar = guitars[0] if same else _one(rng, guitars)
        lines += [f"[stages.{_quoted(stage)}]", f"instrument = {_quoted(guitar)}"]
        lines += [f"conditions = {_quoted(_one(rng, settings))}"] if maybe(0.5) else []
        lines += [f"date = 20{number + 10}-02-28"] if maybe(0.3) else []
        if number and maybe(0.6):
            lines.append(f"from = {_quoted(stages[number - 1])}")
            lines.append(
                f"work = [{{what = {_quoted(_one(rng, NAMES))}, "
                f"parts_cost = {float(rng.choice([0, 1, 1e7]))}, hours = 0.5}}]"
            )
        lines += (
            [f"ratings = {{{_quoted(voices[0])} = {int(rng.integers(0, 11))}}}"]
            if maybe(0.2)
            else []
        )
    for voice in voices:
        if maybe(0.4):
            lines += [f"[voices.{_quoted(voice)}]"]
            lines += [f"split = {'true' if maybe(0.5) else 'false'}"] if maybe(0.4) else []
            lines += [f"output = {_quoted(_one(rng, _OUTPUTS))}"] if maybe(0.4) else []
            lines += [f"pickup_distance_mm = {int(rng.integers(1, 260))}"] if maybe(0.4) else []
    if len(stages) > 1 and maybe(0.6):
        lines += ["[[comparisons]]", f"before = {_quoted(stages[0])}"]
        lines += [f"after = {_quoted(stages[-1])}"]
    lines += ['[worth]\ncurrency = "EUR"\nhourly_rate = 50'] if maybe(0.2) else []
    if maybe(0.1):  # one word of it spoilt
        at = int(rng.integers(len(lines)))
        lines[at] = lines[at].replace(
            _one(rng, list('=[]e"t')), _one(rng, ["", "=", "x", "[", '"'])
        )
    return "\n".join(lines) + "\n"


def write_session(folder: Path, rng: np.random.Generator, *, sounds: bool) -> None:
    """Write a session folder.

    With ``sounds`` its files are small takes, some of them spoilt, else empty files; a few
    stages carry a ``takes.csv``, every fifth session has no ``session.toml``.
    """
    stages, voices = _few(rng, NAMES, 3), _few(rng, NAMES, 3)
    for stage in stages:
        home = folder / stage
        home.mkdir(parents=True, exist_ok=True)
        for voice in voices:
            if rng.random() < 0.05:
                continue
            content = real_take(rng) if sounds else b""
            if sounds and rng.random() < 0.1:
                content = spoilt(content, rng)
            file = f"{voice}.{_one(rng, ('wav', 'wav', 'flac', 'aiff'))}"
            (home / file).write_bytes(content)
            if rng.random() < 0.05:
                cell = file.replace('"', '""')
                row = f'"{cell}",{int(rng.integers(1, 4))},E2,{_one(rng, ("yes", "no"))}'
                (home / "takes.csv").write_bytes(f"file,pluck,note,use\n{row}\n".encode())
    if rng.random() < 0.8:
        text = session_text(rng, stages, voices)
        (folder / "session.toml").write_bytes(text.encode("utf-8"))
