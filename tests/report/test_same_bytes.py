"""The same recordings give the same bytes, wherever and however the report is made."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from small_takes import stage

#: What differs from one computer, or one run, to the next. A locale that is not installed is as C.
ELSEWHERE = {
    "two-workers": {"WORKERS": "2"},
    "german-locale": {"LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"},
    "turkish-locale": {"LC_ALL": "tr_TR.UTF-8"},  # i becomes İ there
    "no-locale": {"LC_ALL": "C", "PYTHONIOENCODING": "cp1252"},
    "another-time-zone": {"TZ": "Pacific/Kiritimati"},
    "another-hash-seed": {"PYTHONHASHSEED": "4242"},
    "two-threads": {"OMP_NUM_THREADS": "2", "OPENBLAS_NUM_THREADS": "2", "MKL_NUM_THREADS": "2"},
    "a-narrow-terminal": {"COLUMNS": "40", "TERM": "dumb"},
}  # fmt: skip


def _report(folder: Path, out: str, told: dict[str, str]) -> dict[str, bytes]:
    threads = {f"{name}_NUM_THREADS": "1" for name in ("OMP", "OPENBLAS", "MKL")}
    plain = {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8", "WORKERS": "1"}
    environment = {**os.environ, **threads, **plain, **told, "TONECOMPARE_STORE": os.devnull}
    words = ["report", "s", "--out", out, "--no-progress", "--workers", environment["WORKERS"]]
    ran = subprocess.run(
        [sys.executable, "-m", "tonecompare", *words],
        cwd=folder, env=environment, capture_output=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    files = sorted(path for path in (folder / out).rglob("*") if path.is_file())
    return {path.relative_to(folder / out).as_posix(): path.read_bytes() for path in files}


@pytest.fixture(scope="module")
def here(tmp_path_factory) -> tuple[Path, dict[str, bytes]]:
    folder = tmp_path_factory.mktemp("same")
    voices = {"neck": {"notes": ("A2", "E2"), "repeats": 2}, "Brücke": {"notes": ("A2",)}}
    for seed, name in enumerate(("vorher", "Überholt")):
        stage(folder / "s" / name, voices, seed=seed)
    (folder / "s" / "session.toml").write_text(
        'title = "Größe"\n[[comparisons]]\nbefore = "vorher"\nafter = "Überholt"\n', "utf-8"
    )
    return folder, _report(folder, "here", {})


@pytest.mark.long
@pytest.mark.parametrize("where", ELSEWHERE)
def test_the_report_is_the_same_elsewhere(here, where):
    folder, files = here
    assert len(files) > 10
    assert _report(folder, where, ELSEWHERE[where]) == files
