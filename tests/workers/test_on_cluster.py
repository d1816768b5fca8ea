"""The same bytes from a cluster of two processes, whatever happens to one of them."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path
from types import SimpleNamespace

import pytest
from small_takes import stage

from tonecompare.kept.store import VARIABLE
from tonecompare.workers.dask_cluster import Cluster as DaskCluster

pytestmark = pytest.mark.long
pytest.importorskip("distributed", reason="the extra cluster is not installed")

VOICES = {name: {"repeats": 2, "slope": 0.6 + 0.1 * n} for n, name in enumerate("abcdef")}
PROGRAM = [sys.executable, "-m", "tonecompare"]


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """Twelve recordings; one more is no sound file."""
    folder = tmp_path_factory.mktemp("session")
    stage(folder / "before", VOICES, seed=1)
    stage(folder / "after", VOICES, seed=5)
    (folder / "after" / "broken.wav").write_bytes(b"no sound")
    return folder


class Cluster:
    """A scheduler and workers, each a process of its own."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "scheduler.json"
        self._scheduler = _start(
            folder, "distributed.cli.dask_scheduler", "--port", "0", "--host", "127.0.0.1",
            "--scheduler-file", str(self._file), "--no-dashboard",
        )  # fmt: skip
        self.workers: list[subprocess.Popen[bytes]] = []
        until_s = time.monotonic() + 60
        while not self._file.exists() or not self._file.read_text():
            assert time.monotonic() < until_s
            time.sleep(0.1)
        self.address = json.loads(self._file.read_text())["address"]

    def work(self, **environment: str) -> subprocess.Popen[bytes]:
        worker = _start(
            self._file.parent, "distributed.cli.dask_worker", self.address, "--no-nanny",
            "--nthreads", "1", "--no-dashboard", "--local-directory", str(self._file.parent),
            **environment,
        )  # fmt: skip
        self.workers.append(worker)
        return worker

    def stop_scheduler(self) -> None:
        _kill(self._scheduler)

    def stop(self) -> None:
        for process in (*self.workers, self._scheduler):
            _kill(process)


def _start(
    folder: Path, module: str, *arguments: str, **environment: str
) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", module, *arguments],
        cwd=folder,
        env={**os.environ, **environment},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _kill(process: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError):
        process.kill()
    process.wait(timeout=30)


@contextmanager
def _cluster(folder: Path, workers: int = 2, **environment: str) -> Iterator[Cluster]:
    cluster = Cluster(folder)
    try:
        for _ in range(workers):
            cluster.work(**environment)
        yield cluster
    finally:
        cluster.stop()


@pytest.fixture
def cluster(tmp_path):
    with _cluster(tmp_path) as made:
        yield made


def _run(session: Path, store: Path, *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*PROGRAM, *command],
        cwd=session,
        env={**os.environ, VARIABLE: str(store)},
        capture_output=True,
        text=True,
        timeout=300,
    )


def _measured(session: Path, store: Path, *more: str) -> subprocess.CompletedProcess[str]:
    return _run(session, store, "measure", "before", "after", "--format", "json", *more)


@pytest.fixture(scope="module")
def here(session, tmp_path_factory):
    """What measuring without a cluster says."""
    return _measured(session, tmp_path_factory.mktemp("here"), "--workers", "1")


def _engine(cluster: Cluster) -> tuple[str, ...]:
    return ("--engine", "dask", "--scheduler", cluster.address)


def _same(result, here):
    assert (result.returncode, result.stdout) == (here.returncode, here.stdout)
    assert result.stderr == here.stderr
    assert here.returncode == 1
    assert here.stdout.count('"file": "before/a.wav"') > 1


def test_the_same_bytes_and_the_second_run_measures_nothing(session, cluster, here, tmp_path):
    store = tmp_path / "store"
    _same(_measured(session, store, *_engine(cluster)), here)
    again = _measured(session, store, "--progress", *_engine(cluster))
    assert again.stdout == here.stdout
    assert "Measured 13 of 13: kept from earlier runs" in again.stderr
    assert _measured(session, store, "--workers", "1").stdout == here.stdout


def test_the_same_report(session, cluster, tmp_path):
    for name, how in (("here", ("--workers", "1")), ("there", _engine(cluster))):
        result = _run(
            session, tmp_path / f"store-{name}", "report", ".", "--no-clips", "--out",
            str(tmp_path / name), *how,
        )  # fmt: skip
        assert result.returncode == 1, result.stderr
    files = {
        name: {
            path.relative_to(tmp_path / name): path.read_bytes()
            for path in (tmp_path / name).rglob("*")
            if path.is_file()
        }
        for name in ("here", "there")
    }
    assert files["here"] == files["there"]


def _on_the_way(
    session: Path, store: Path, cluster: Cluster, at: int, act: Callable[[subprocess.Popen], None]
) -> tuple[int, str, str]:
    """Measure on a cluster, do something to it once ``at`` recordings are done; how it ended."""
    command = ["measure", "before", "after", "--format", "json", "--progress", *_engine(cluster)]
    with subprocess.Popen(
        [*PROGRAM, *command],
        cwd=session,
        env={**os.environ, VARIABLE: str(store)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:
        for line in process.stderr:
            if line.startswith(f"Measured {at} of 13"):
                break
        act(process)
        said, more = process.communicate(timeout=200)
    return process.returncode, said, more


def test_a_result_that_went_with_its_worker_is_waited_for_again(monkeypatch):
    # What distributed says of a result whose only worker died before it was fetched is "lost"; the
    # scheduler has it worked out again, and the same future ends anew.
    class Future:
        def __init__(self):
            self.states = ["lost", "finished"]

        @property
        def status(self):
            return self.states.pop(0)

        def exception(self):
            return None

        def result(self):
            return "measured"

    future = Future()
    client = SimpleNamespace(
        submit=lambda *_, **__: future, nthreads=lambda: {"a": 1}, as_current=nullcontext
    )
    monkeypatch.setattr("distributed.wait", lambda futures, *_, **__: SimpleNamespace(done=futures))
    cluster = DaskCluster("tcp://127.0.0.1:1")
    monkeypatch.setattr(cluster, "_client", client)
    assert list(cluster.each(str, [("a",)])) == [(0, "measured")]


@pytest.mark.parametrize("at", [1, 6])
def test_a_worker_killed_on_the_way_loses_nothing(session, cluster, here, tmp_path, at):
    code, said, _ = _on_the_way(
        session, tmp_path / "store", cluster, at, lambda _: cluster.workers[0].kill()
    )
    assert (code, said) == (1, here.stdout)


@pytest.mark.parametrize(
    ("act", "code", "told"),
    [
        ("scheduler", 2, "went away. What was measured is kept"),
        ("ctrl-c", 130, "Stopped. Nothing was written. What was measured is kept"),
    ],
)
def test_what_was_measured_before_an_end_is_not_measured_again(
    session, here, tmp_path, act, code, told
):
    store = tmp_path / "store"
    with _cluster(tmp_path, 1) as cluster:
        acts = {
            "scheduler": lambda _: cluster.stop_scheduler(),
            "ctrl-c": lambda process: process.send_signal(signal.SIGINT),
        }
        ended = _on_the_way(session, store, cluster, 3, acts[act])
    assert ended[:2] == (code, "")
    assert told in ended[2]
    assert "Traceback" not in ended[2]
    again = _measured(session, store, "--workers", "1", "--progress")
    assert again.stdout == here.stdout
    kept = next(line for line in again.stderr.splitlines() if "kept from earlier runs" in line)
    assert int(kept.split()[1]) >= 3


def test_nobody_there_and_nobody_to_work_are_said_in_time(session, tmp_path):
    began_s = time.monotonic()
    result = _measured(
        session, tmp_path, "--engine", "dask", "--scheduler", "tcp://127.0.0.1:9", "--no-progress"
    )
    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr.startswith("Error: No dask scheduler answers at tcp://127.0.0.1:9.")
    assert len(result.stderr.splitlines()) == 1
    with _cluster(tmp_path, 0) as cluster:
        result = _measured(session, tmp_path, *_engine(cluster))
    assert (result.returncode, result.stdout) == (2, "")
    assert f"at {cluster.address} has no worker" in result.stderr
    assert time.monotonic() - began_s < 120


@pytest.mark.parametrize("address", ["nonsense", "foo://x:1", "tcp://127.0.0.1:0", ""])
def test_an_address_that_is_none_is_bad_input(session, tmp_path, address):
    result = _measured(session, tmp_path, "--engine", "dask", "--scheduler", address)
    assert result.returncode == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_a_file_that_only_this_computer_sees_is_named(session, tmp_path):
    """A worker on another computer: its code opens no file of the session."""
    blind = tmp_path / "blind"
    blind.mkdir()
    (blind / "sitecustomize.py").write_text(
        "from pathlib import Path\n"
        "real = Path.open\n"
        "def refuse(self, mode='r', *more, **named):\n"
        "    if self.suffix == '.wav':\n"
        "        raise FileNotFoundError(2, 'No such file', str(self))\n"
        "    return real(self, mode, *more, **named)\n"
        "Path.open = refuse\n"
    )
    path = os.pathsep.join([str(blind), os.environ.get("PYTHONPATH", "")])
    with _cluster(tmp_path, 1, PYTHONPATH=path) as cluster:
        result = _measured(session, tmp_path / "store", *_engine(cluster))
    assert (result.returncode, result.stdout) == (2, "")
    assert f"cannot read {session}/" in result.stderr
    assert "under the same path" in result.stderr


def test_a_worker_with_another_version_is_refused(session, tmp_path):
    other = tmp_path / "other"
    shutil.copytree(Path(__file__).parents[2] / "tonecompare", other / "tonecompare")
    with (other / "tonecompare" / "measure" / "take.py").open("a") as file:
        file.write("# another\n")
    with _cluster(tmp_path, 1, PYTHONPATH=str(other)) as cluster:
        result = _measured(session, tmp_path / "store", *_engine(cluster))
    assert (result.returncode, result.stdout) == (2, "")
    assert "with other versions than this computer" in result.stderr
