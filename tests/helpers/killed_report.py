"""Kill whole runs of ``tonecompare report`` at random moments and look what stands afterwards.

``python tests/helpers/killed_report.py 200`` kills that many and prints how it ended; with
``200 1 ctrl-c`` (number, seed) they are stopped as by Ctrl-C, which has to end in its exit code and
nothing else. Every run
begins with an earlier report in place, a file of the user's in it, and a new store. It dies, like
by ``kill -9``, after a random share of the processor time that an undisturbed run takes, so that
the moments are the same however busy the machine is. Afterwards the earlier or the later report
must stand whole, the store must be whole, and the next run must give the bytes of an undisturbed
one and leave nothing beside them.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from small_takes import stage

from tonecompare.cli import main as program
from tonecompare.cli.outcome import STOPPED
from tonecompare.kept.store import VARIABLE
from tonecompare.report.files.own_files import listed

_MINE = "mine.txt"
Files = dict[str, bytes]


def files_in(folder: Path) -> Files:
    """Return the content of every file below a folder by its name there."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def in_child(work: Callable[[], object]) -> int:
    """Run something in a child of its own; return its exit code, negative for a signal."""
    child = os.fork()
    if child == 0:
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            work()
        except SystemExit as error:
            os._exit(int(error.code or 0))
        except BaseException:
            os._exit(99)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


class KilledRuns:
    """A folder with a session, an earlier report, and what the later report must be."""

    def __init__(self, home: Path, *more: str, ctrl_c: bool = False) -> None:
        self._stopped = STOPPED if ctrl_c else -signal.SIGPROF
        self.home, self.out, self.store = home, home / "r" / "out", home / "store"
        os.environ[VARIABLE] = str(self.store)
        self.session = home / "s"
        words = ("report", str(self.session), "--out", str(self.out), "--no-progress")
        self._words = (*words, "--workers", "1", *more)
        for name, seed in (("before", 1), ("after", 2)):
            stage(self.session / name, {"neck": {"notes": ("A2",), "repeats": 1}}, seed=seed)
        (self.session / "session.toml").write_text('title = "earlier"\n')
        with suppress(SystemExit):  # here, so that the children have everything loaded
            program(self._words)
        self.earlier = files_in(self.out)
        (self.session / "session.toml").write_text('title = "later"\n')
        shutil.rmtree(self.out)
        shutil.rmtree(self.store)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert self.report() == 0
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        self.cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        self.later = files_in(self.out)
        assert self.later != self.earlier

    def report(self, *, dies_after_s: float | None = None) -> int:
        """Run the command, which dies after so much processor time; return how it ended."""

        def work() -> None:
            if self._stopped == STOPPED:
                signal.signal(signal.SIGINT, signal.default_int_handler)
                signal.signal(signal.SIGPROF, lambda *_: signal.raise_signal(signal.SIGINT))
            else:
                signal.signal(signal.SIGPROF, signal.SIG_DFL)
            if dies_after_s is not None:
                signal.setitimer(signal.ITIMER_PROF, dies_after_s)
            program(self._words)

        return in_child(work)

    def kill_at(self, share: float) -> str:
        """Kill a run; return what stood then, or what is wrong."""
        for folder in (self.out.parent, self.store):
            shutil.rmtree(folder, ignore_errors=True)
        for name, content in (*self.earlier.items(), (_MINE, b"mine")):
            (self.out / name).parent.mkdir(parents=True, exist_ok=True)
            (self.out / name).write_bytes(content)
        ended = self.report(dies_after_s=share * self.cpu_s)
        if ended not in (0, self._stopped):
            return f"ended with {ended}"
        stands = files_in(self.out)
        if stands.pop(_MINE, b"") != b"mine":
            return "the user's file was lost"
        which = {True: "earlier", False: "neither"}[stands == self.earlier]
        which = "later" if stands == self.later else which
        if which == "neither" or listed(self.out) is None:
            return "no whole report"
        if not self._store_is_whole():
            return "the store is broken"
        if self.report() != 0:
            return "the next run failed"
        after = files_in(self.out)
        if after.pop(_MINE, b"") != b"mine" or after != self.later:
            return "the next run gave other bytes"
        if [path.name for path in self.out.parent.iterdir()] != [self.out.name]:
            return "something was left beside the report"
        return f"{'killed' if ended else 'was done'}, {which} report"

    def _store_is_whole(self) -> bool:
        path = self.store / "measurements.sqlite"
        if not path.exists():
            return True
        with closing(sqlite3.connect(path)) as store:
            return bool(store.execute("PRAGMA integrity_check").fetchone() == ("ok",))


GOOD = ("killed, earlier report", "killed, later report", "was done, later report")


def main(count: int, seed: int = 1, *, ctrl_c: bool = False) -> int:
    """Kill or stop so many runs, print how they ended, and return how many ended badly."""
    drawn = random.Random(seed)
    with tempfile.TemporaryDirectory() as home:
        runs = KilledRuns(Path(home), ctrl_c=ctrl_c)
        ends: Counter[str] = Counter()
        for number in range(count):
            share = drawn.uniform(0.0, 1.05)
            ended = runs.kill_at(share)
            ends[ended] += 1
            if ended not in GOOD:
                print(f"run {number}, killed after {share:.4f}: {ended}", flush=True)
    for ended, times in ends.most_common():
        print(f"{times:6d}  {ended}")
    return sum(times for ended, times in ends.items() if ended not in GOOD)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:3]), ctrl_c=sys.argv[3:] == ["ctrl-c"]) > 0)
