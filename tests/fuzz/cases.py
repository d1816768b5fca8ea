"""Seeded bad input: one number makes one case, the same every time.

``python tests/fuzz/cases.py 10000`` runs that many and prints a table of how they ended;
``python tests/fuzz/cases.py 10000 4000`` begins at number 4000.
"""

from __future__ import annotations

import faulthandler
import re
import resource
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
from click.testing import CliRunner
from nonsense import in_folder, in_table
from sessions_made import write_session
from sounds_made import any_sound

from tonecompare.cli import main as program
from tonecompare.errors import InputError
from tonecompare.session import load_session
from tonecompare.session.overrides import stage_overrides
from tonecompare.takes.read import read_audio

#: More processor time than this on one case is a hang; a whole session is measured, checked and
#: reported. A case that only waits ends the run, with where it stood, after ten times as long.
HANG_S, SESSION_HANG_S = 5.0, 30.0
#: Of so many cases one is a whole session: among those that run daily, and among the others.
_DAILY, _WHOLE_IN_DAILY, _WHOLE_IN = 500, 500, 50
_WORDS = (
    "title", "stages", "=", "[", "]", "[[", '"', "1e999", "nan", "-0", "9" * 5000, "\\u0000", "é",
    "from", "\n", ",", "{", "}", "true", "1979-05-27", "voices", "comparisons", "before",
    "#", "'''",
)  # fmt: skip
_CELLS = ("file", "pluck", "note", "a.wav", "1", "-1", "1e999", "nan", "E2", "H#9", '"', ",", ";",
          "\n", "\r", "\x00", "=1+1", "use", "no", "0.5", "é", "9" * 400, " ")  # fmt: skip
#: What a terminal must never be sent: control characters but tab and line end.
_STEERING = {chr(number) for number in (*range(9), *range(11, 32), *range(127, 160))} | {
    "\u202e", "\u2066",
}  # fmt: skip


#: How a report tells of a recording that a fault of ours left out.
_OURS = ("fault in tonecompare", "Fehler in tonecompare", "Fehlers in tonecompare")


class FaultError(Exception):
    """Something that must not be; the message says what."""


def _read_sound(folder: Path, rng: np.random.Generator) -> None:
    path = folder / str(rng.choice(["a.wav", "E2.wav", "=1+1.flac", "a\x1b[2J.aiff", "é\n.wav"]))
    path.write_bytes(any_sound(rng))
    audio = read_audio(path)
    if not (np.isfinite(audio.samples[:, :]).all() and audio.rate_hz > 0):
        raise FaultError("samples that are no numbers came through")
    table = _run("measure", str(path), "--csv", "--workers", "1")
    if table:
        _refuse_faults(list(in_table(table)))


def _read_session(folder: Path, rng: np.random.Generator) -> None:
    if rng.random() < 0.6:
        write_session(folder, rng, sounds=False)
    elif rng.random() < 0.15:
        depth = int(rng.integers(1, 3000))
        (folder / "session.toml").write_text("x = " + "[" * depth + "]" * depth)
    elif rng.random() < 0.1:
        (folder / "session.toml").write_bytes(rng.bytes(50))
    else:
        text = " ".join(rng.choice(_WORDS, int(rng.choice([0, 1, 3, 8, 30]))))
        (folder / "session.toml").write_bytes(text.encode("utf-8"))
    load_session(folder)


def _read_takes(folder: Path, rng: np.random.Generator) -> None:
    if rng.random() < 0.5:
        (folder / "a.wav").touch()
    rows = (",".join(rng.choice(_CELLS, int(rng.integers(1, 6)))) for _ in range(rng.integers(6)))
    header = "file,pluck,note,use"[: int(rng.choice([19, 19, 19, 14, 10, 3]))]
    text = "\n".join([header, *rows])
    (folder / "takes.csv").write_bytes(
        rng.bytes(60) if rng.random() < 0.1 else text.encode("utf-8")
    )
    stage_overrides(folder)


def _whole_session(folder: Path, rng: np.random.Generator) -> None:
    """Measure, check and report a session of small takes, as somebody at a terminal would."""
    session = folder / "s"
    write_session(session, rng, sounds=True)
    before = _contents(session)
    load_session(session)
    out = folder / "out"
    spoken = ("--language", str(rng.choice(["en", "de"])), "--workers", "1")
    _run("check", str(session), *spoken, "--out", str(folder / "check"))
    _run("report", str(session), *spoken, "--out", str(out))
    if _contents(session) != before:
        raise FaultError("a file of the session was touched")
    if not (out / "index.html").is_file():
        raise InputError("no report")
    _refuse_faults(in_folder(out))


def _run(*words: str) -> str:
    """Run a command, return its stdout, "" when it refused; what must not be is a fault."""
    ran = CliRunner().invoke(program, [*words, "--no-progress", "--debug"])
    if ran.exit_code not in (0, 1, 2) or any(said in ran.stderr for said in _OURS):
        lines = ran.stderr.strip().splitlines()
        told = [line for line in lines if re.match(r"\w+(Error|Warning): ", line)]
        raise FaultError(f"{words[0]}: exit {ran.exit_code}: {(told or lines or [''])[-1][:300]}")
    if ran.exit_code == 2 and not ran.stderr.strip():
        raise FaultError(f"{words[0]}: refused without a word")
    shown = ran.stderr if "--csv" in words else ran.stdout + ran.stderr
    if _STEERING & set(shown):
        raise FaultError(f"{words[0]}: steers the terminal with {sorted(_STEERING & set(shown))!r}")
    return "" if ran.exit_code == 2 else ran.stdout


def _refuse_faults(found: list[tuple[str, str]]) -> None:
    if found:
        raise FaultError(f"{found[0][0]}: {found[0][1]} (of {len(found)})")


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


KINDS: dict[str, Callable[[Path, np.random.Generator], None]] = {
    "sound": _read_sound, "session.toml": _read_session, "takes.csv": _read_takes,
}  # fmt: skip
WHOLE = "whole session"


def kind_of(number: int) -> str:
    """Return what a case is made of."""
    share = _WHOLE_IN_DAILY if number < _DAILY else _WHOLE_IN
    return WHOLE if number % share == share - 1 else list(KINDS)[number % len(KINDS)]


def run(number: int) -> tuple[str, str, float]:
    """Run a case: which kind, how it ended ("read", "refused" or a fault) and in how many s."""
    rng, kind = np.random.default_rng(number), kind_of(number)
    job = KINDS.get(kind, _whole_session)
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            job(Path(folder), rng)
            ended = "read"
        except InputError as error:
            ended = "refused" if str(error).strip() else "refused without a word"
        except FaultError as error:
            ended = str(error)
        except Exception as error:
            ended = f"{type(error).__name__}: {str(error)[:80]}"
    took_s = time.process_time() - began
    hung = took_s > (SESSION_HANG_S if kind == WHOLE else HANG_S)
    return kind, f"hung ({ended})" if hung else ended, took_s


def main(first: int, count: int) -> int:
    """Run cases and print a table; return how many ended in a fault or hung."""
    run(0)  # what is loaded by the first case takes no case's time
    ends: Counter[tuple[str, str]] = Counter()
    bad: list[int] = []
    slowest = 0.0
    for number in range(first, first + count):
        faulthandler.dump_traceback_later(10 * SESSION_HANG_S, exit=True)
        kind, ended, took_s = run(number)
        slowest = max(slowest, took_s)
        if ended not in ("read", "refused"):
            bad.append(number)
            print(f"case {number}, {kind}: {ended!r}", flush=True)
            ended = ended.split(":")[0]
        ends[kind, ended] += 1
    faulthandler.cancel_dump_traceback_later()
    for (kind, ended), times in sorted(ends.items()):
        print(f"{times:7d}  {kind:13s} {ended}")
    faults = {word: sum(n for (_, end), n in ends.items() if end.startswith(word)) for word in (
        "hung", "non-finite", "nonsense")}  # fmt: skip
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"cases {first} to {first + count - 1}: slowest {slowest:.2f} s, most memory "
        f"{peak_mib:.0f} MiB, hung {faults['hung']}, non-finite cells {faults['non-finite']}, "
        f"unflagged nonsense {faults['nonsense']}, faults of all kinds {len(bad)}"
    )
    return len(bad)


if __name__ == "__main__":
    sys.exit(main(int((sys.argv[2:] or ["0"])[0]), int(sys.argv[1])) > 0)
