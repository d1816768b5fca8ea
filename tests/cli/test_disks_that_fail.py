"""A disk that is full, a folder that may not be written: a sentence, exit code 2, nothing lost.

No file may grow beyond a limit (RLIMIT_FSIZE), which is met while writing, as on a full disk.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from small_takes import take, write

from tonecompare.cli import main

resource = pytest.importorskip("resource")


@pytest.fixture
def full_beyond() -> Callable[..., Result]:
    """Return a function that runs a command in which no file may be larger than so many bytes."""

    def call(size: int, *words: object) -> Result:
        before = resource.getrlimit(resource.RLIMIT_FSIZE)
        ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
        try:
            return CliRunner().invoke(main, [*map(str, words)])
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
            signal.signal(signal.SIGXFSZ, ignored)

    return call


def _names(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def _contents(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in _names(folder)
            if (folder / name).is_file()}  # fmt: skip


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for number, stage in enumerate(("before", "after")):
        write(tmp_path / "s" / stage / "neck.wav", take(notes=("A2",), repeats=1, seed=number))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.long
@pytest.mark.parametrize("size", [0, 5_000, 40_000, 100_000])
@pytest.mark.parametrize("command", ["report", "check", "clips", "charts"])
def test_a_full_disk_leaves_the_earlier_folder_whole(session, full_beyond, command, size):
    made = CliRunner().invoke(main, [command, "s", "--out", "r/out"])
    assert made.exit_code in (0, 1)
    earlier = _contents(session)
    (session / "s" / "session.toml").write_text('title = "another"\n')
    result = full_beyond(size, command, "s", "--out", "r/out")
    (session / "s" / "session.toml").unlink()
    if result.exit_code != 2:  # what this command writes is smaller
        assert result.exit_code == made.exit_code
        assert size >= 40_000
        return
    assert "r/out: could not be written to its end (File too large)" in result.stderr
    assert _contents(session) == earlier
    assert [path.name for path in (session / "r").iterdir()] == ["out"]


@pytest.mark.parametrize("size", [0, 1000, 9000])
def test_a_plan_that_cannot_be_written_leaves_no_file(tmp_path, monkeypatch, full_beyond, size):
    monkeypatch.chdir(tmp_path)
    result = full_beyond(size, "plan", "heron", "--no-ask")
    assert result.exit_code == 2
    assert result.stderr.startswith("Error: heron/")
    assert "cannot be written: File too large." in result.stderr
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    assert CliRunner().invoke(main, ["plan", "heron", "--no-ask"]).exit_code == 0


def test_a_take_that_cannot_be_cut_leaves_no_file(tmp_path, monkeypatch, full_beyond):
    monkeypatch.chdir(tmp_path)
    one = take(notes=("A2",), repeats=2)
    write(tmp_path / "long.wav", np.concatenate([one, np.zeros(4 * 44_100), one]))
    words = ("cut", "long.wav", "--voices", "neck, bridge", "--into", "s")
    result = full_beyond(300_000, *words)
    assert result.exit_code == 2
    assert "Error: s: No space left on device. Check the path" in result.stderr
    assert _names(tmp_path) == ["long.wav", "s"]


def test_an_earlier_blind_test_stays_when_the_next_cannot_be_written(
    tmp_path, monkeypatch, full_beyond
):
    from tonecompare.whole_file import write_whole

    page = tmp_path / "page.html"
    write_whole(page, "earlier")
    with pytest.raises(FileExistsError):
        write_whole(page, "other")
    monkeypatch.setattr(os, "fsync", lambda _handle: (_ for _ in ()).throw(OSError(5, "x")))
    write_whole(page, "later", replace=True)
    assert page.read_text() == "later"
    monkeypatch.undo()
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (10, before[1]))
    with pytest.raises(OSError, match="File too large") as raised:
        write_whole(page, 100 * "x", replace=True)
    resource.setrlimit(resource.RLIMIT_FSIZE, before)
    signal.signal(signal.SIGXFSZ, ignored)
    assert raised.value.filename == str(page)
    assert page.read_text() == "later"
    assert _names(tmp_path) == ["page.html"]


def _refuse_new_folders(**_named: object) -> str:
    raise OSError(errno.EROFS, os.strerror(errno.EROFS))


@pytest.mark.parametrize("fault", ["read-only", "full"])
@pytest.mark.parametrize(
    ("command", "out"),
    [("report", "r"), ("check", "r"), ("charts", "r"), ("clips", "r"), ("blind", "r.html")],
)
def test_where_nothing_can_be_written_nothing_is_measured(
    session, monkeypatch, command, out, fault
):
    if fault == "full":
        left = shutil.disk_usage(session)._replace(free=40_000)
        monkeypatch.setattr(shutil, "disk_usage", lambda _folder: left)
        said = "the disk is full (40 kB are left)"
    else:
        monkeypatch.setattr(tempfile, "mkdtemp", _refuse_new_folders)
        said = "cannot be written (Read-only file system)"
    monkeypatch.setattr("tonecompare.takes.read.sf", None)  # no take is opened
    result = CliRunner().invoke(main, [command, "s", "--out", f"new/deep/{out}", "--workers", "1"])
    assert result.exit_code == 2, result.stderr
    assert f"{session}: {said}" in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert not (session / "new").exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("arguments", [("--help",), ("report", "--help")])
def test_help_to_a_full_disk_ends_in_a_sentence(arguments):
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        run = subprocess.run(
            [sys.executable, "-m", "tonecompare", *arguments],
            stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert run.returncode == 2
    assert run.stderr.startswith("Error: No space left on device.")
    assert len(run.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name != "posix", reason="streams are closed by the shell")
@pytest.mark.parametrize("closed", [">&-", "<&-", "2>&-"])
def test_a_closed_stream_is_no_fault(tmp_path, closed):
    command = f"{sys.executable} -m tonecompare plan {tmp_path / 'heron'} {closed}"
    run = subprocess.run(["sh", "-c", command], capture_output=True, timeout=60, check=False)
    assert (run.returncode, b"Internal" in run.stderr) == (0, False)
    assert (tmp_path / "heron" / "session.toml").exists()


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")  # noqa: PTH110
def test_a_stderr_that_takes_nothing_changes_no_exit_code(session: Path) -> None:
    for words, code in ((("report", "nothere"), 2), (("nosuch",), 2)):
        with open("/dev/full", "w") as full:  # noqa: PTH123
            run = subprocess.run(
                [sys.executable, "-m", "tonecompare", *words],
                stdout=subprocess.PIPE, stderr=full, timeout=60, check=False,
            )  # fmt: skip
        assert run.returncode == code, words
