"""Processes beside this one: what becomes of them and of their work."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tonecompare.workers.processes import processes

#: A copy is made only of a process without threads, which the one that runs the tests may not be.
_ALONE = """
import os, signal, sys, time
from tonecompare.workers.processes import processes, start_at_once
assert start_at_once()
{then}
"""
linux = pytest.mark.skipif(sys.platform != "linux", reason="processes start anew here")


def _alone(then: str) -> str:
    words = [sys.executable, "-c", _ALONE.format(then=then)]
    return subprocess.run(words, capture_output=True, text=True, timeout=20, check=True).stdout


def _gone(number: int) -> bool:
    for _ in range(100):
        try:
            os.kill(number, 0)
        except ProcessLookupError:
            return True
        if Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
            return True
        time.sleep(0.05)
    return False


@linux
def test_copies_know_what_is_loaded_and_give_results_in_any_order() -> None:
    said = _alone("""
import json
with processes(2) as others:
    found = [others.submit(json.dumps, n) for n in range(5)]
    print([one.result() for one in reversed(found)])
""")
    assert said == "['4', '3', '2', '1', '0']\n"


@linux
def test_copies_end_with_the_process_that_made_them_however_it_ends() -> None:
    code = _ALONE.format(
        then="""
with processes(2) as others:
    print(others.submit(os.getpid).result(), flush=True)
    others.submit(time.sleep, 60).result()
"""
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as ran:
        assert ran.stdout is not None
        copy = int(ran.stdout.readline())
        ran.kill()
    assert _gone(copy)


@linux
def test_an_exception_breaks_off_what_copies_are_at() -> None:
    said = _alone("""
try:
    with processes(2) as others:
        at_work = others.submit(time.sleep, 60)
        print(others.submit(os.getpid).result(), flush=True)
        raise KeyboardInterrupt
except KeyboardInterrupt:
    print("stopped", flush=True)
""").splitlines()
    assert said[1] == "stopped"
    assert _gone(int(said[0]))


@linux
def test_a_copy_leaves_ctrl_c_to_the_process_that_was_asked() -> None:
    said = _alone("""
with processes(1) as others:
    copy = others.submit(os.getpid).result()
    os.kill(copy, signal.SIGINT)
    print(others.submit(os.getpid).result() == copy)
""")
    assert said == "True\n"


@linux
def test_a_process_that_the_system_ends_is_told_of_with_what_to_do() -> None:
    said = _alone("""
from tonecompare.errors import InputError
try:
    with processes(1) as others:
        others.submit(signal.raise_signal, signal.SIGKILL).result()
except InputError as error:
    print(error)
""")
    assert "--workers 1" in said


def test_where_processes_start_anew_they_give_results_too() -> None:
    with processes(1) as others:  # threads of the tests' own workers allow no copy
        assert others.submit(json.dumps, 3).result() == "3"


@linux
def test_a_process_with_threads_is_not_copied() -> None:
    said = _alone("""
import threading
threading.Thread(target=time.sleep, args=(1,), daemon=True).start()
print(start_at_once())
""")
    assert said == "False\n"


@linux
def test_work_is_broken_off_while_results_are_handed_in() -> None:
    """A result is larger than a pipe: a process killed in the midst of it leaves half."""
    said = _alone("""
for n in range(15):
    try:
        with processes(2) as others:
            for _ in range(8):
                others.submit(bytes, 3_000_000)
            time.sleep(0.004 * n)
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        pass
print("stopped", 15)
""")
    assert said == "stopped 15\n"


@linux
def test_what_is_done_beside_knows_what_this_process_knows_and_is_done_by_another() -> None:
    said = _alone("""
from tonecompare.workers.processes import beside
held = {"here": os.getpid()}
for workers in (1, 2):
    with beside(lambda: (os.getpid(), dict(held)), workers=workers) as found:
        held["later"] = workers
    number, known = found()
    print(number == os.getpid(), known == held, known["here"] == os.getpid())
""")
    assert said == "True True True\nFalse False True\n"


@linux
def test_what_goes_wrong_beside_goes_wrong_here() -> None:
    said = _alone("""
from tonecompare.workers.processes import beside
try:
    with beside(lambda: 1 // 0, workers=2) as found:
        found()
except ZeroDivisionError as error:
    print(error)
""")
    assert said == "integer division or modulo by zero\n"


@pytest.mark.long
def test_a_process_that_ends_between_two_calls_holds_up_none_where_they_start_anew() -> None:
    """Joblib's own way from two to one, or to three, waits for ever for one that is gone."""
    code = """
import math, os, time
from tonecompare.errors import InputError
from tonecompare.workers import processes as module
module.start_at_once = lambda: False
for number in (2, 1, 3, 2, 1, 3, 2, 3, 1):
    try:
        with module.processes(number) as others:
            others.submit(math.sqrt, 4).result()
            others.submit(os._exit, 1)
            others.submit(time.sleep, 0.01)
    except InputError:
        pass
print("came through")
"""
    said = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code],
        capture_output=True,
        text=True,
        timeout=90,
        check=True,
    ).stdout
    assert said == "came through\n"
