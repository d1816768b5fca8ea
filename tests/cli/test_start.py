"""``tonecompare --help`` and ``--version`` answer at once: nothing heavy is loaded for them."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys

import pytest

HEAVY = {"numpy", "scipy", "pandas", "librosa", "matplotlib", "soundfile", "joblib", "jinja2"}
#: Each of the program's own packages; their contents pages must stay light as well.
PACKAGES = ("session", "takes", "measure", "compare", "report", "strings", "cli")

_LIST_MODULES = """
import json, sys
from tonecompare.cli import main
try:
    main(sys.argv[1:], prog_name="tonecompare")
finally:
    print(json.dumps(sorted(sys.modules)))
"""


def _loaded_by(*arguments: str) -> set[str]:
    run = subprocess.run(
        [sys.executable, "-c", _LIST_MODULES, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return {name.partition(".")[0] for name in json.loads(run.stdout.splitlines()[-1])}


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["compare", "--help"], ["measure", "--help"]]
)
def test_help_and_version_load_nothing_heavy(arguments):
    loaded = _loaded_by(*arguments)
    assert "click" in loaded
    assert loaded & HEAVY == set()


@pytest.mark.parametrize("package", PACKAGES)
def test_importing_a_package_loads_nothing_heavy(package):
    code = f"import json, sys, tonecompare.{package}; print(json.dumps(sorted(sys.modules)))"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert {name.partition(".")[0] for name in json.loads(run.stdout)} & HEAVY == set()


def test_help_takes_less_than_0_3_s_of_processor_time():
    # Processor time of the child, not the clock on the wall: a busy machine is no fault.
    used = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-m", "tonecompare", "--help"],
            stdout=subprocess.DEVNULL,
            timeout=60,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    assert min(used) < 0.3


@pytest.mark.parametrize(("given", "threads"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3")])
def test_linear_algebra_has_one_thread_unless_its_user_says_so(given, threads):
    own = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    code = "import os, tonecompare.cli as cli\ntry:\n    cli.main(['--version'])\n"
    code += "finally:\n    print(os.environ['OPENBLAS_NUM_THREADS'])"
    run = subprocess.run(
        [sys.executable, "-c", code], env={**own, **given}, capture_output=True, text=True,
        timeout=60, check=True,
    )  # fmt: skip
    assert run.stdout.splitlines()[-1] == threads


@pytest.mark.parametrize("variable", ["MPLBACKEND", "SOURCE_DATE_EPOCH"])
def test_what_is_set_for_plots_and_builds_of_others_stops_nothing(variable):
    code = "import tonecompare.cli as cli\ntry:\n    cli.main(['--version'])\n"
    code += "finally:\n    import matplotlib, numpy.f2py"
    told = {**os.environ, variable: "nonsense"}
    run = subprocess.run(
        [sys.executable, "-c", code], env=told, capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert (run.returncode, run.stderr) == (0, "")


def test_a_folder_that_is_gone_is_named_as_the_cause(tmp_path):
    gone = tmp_path / "gone"
    gone.mkdir()
    code = f"import os\nos.chdir({str(gone)!r})\nos.rmdir({str(gone)!r})\n"
    code += "import tonecompare.cli as cli\ncli.main(['measure', '/x.wav'])"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert run.returncode == 2
    assert "The folder you are in is gone." in run.stderr


@pytest.mark.parametrize(
    ("unbuffered", "word"), [("", "explain"), ("1", "explain"), ("", "--help")]
)
def test_a_full_disk_for_what_is_printed_is_told_and_has_its_code(unbuffered, word, tmp_path):
    """Python tries the rest again at its end, and without a buffer drops it."""
    limit = (1000, 1000)
    with (tmp_path / "words.txt").open("w") as file:
        run = subprocess.run(
            [sys.executable, "-m", "tonecompare", word], stdout=file, stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONUNBUFFERED": unbuffered}, text=True, timeout=60, check=False,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, limit),
        )  # fmt: skip
    told = "Error: File too large. Check the path, the permissions and the free space.\n"
    assert (run.returncode, run.stderr) == (2, told)


def test_a_home_that_cannot_be_written_is_no_matter_for_the_terminal(tmp_path):
    code = "import tonecompare.cli as cli\ntry:\n    cli.main(['--version'])\n"
    code += "finally:\n    import matplotlib.font_manager"
    home = {"HOME": os.devnull, "XDG_CACHE_HOME": os.devnull, "XDG_CONFIG_HOME": os.devnull}
    own = {name: value for name, value in os.environ.items() if name != "MPLCONFIGDIR"}
    run = subprocess.run(
        [sys.executable, "-c", code], env={**own, **home, "TMPDIR": str(tmp_path)},
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert run.stderr == ""
