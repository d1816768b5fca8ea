"""What is written beside the code: README, DEVELOPERS, CI, and the limits of the house."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

import tonecompare

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PACKAGE = sorted((ROOT / "tonecompare").rglob("*.py"))
_NOT_OURS = {".git", ".venv", "build", "dist", "__pycache__", ".hypothesis"}
_TEXT = {".py", ".md", ".toml", ".html", ".css", ".js", ".json", ".csv", ".svg", ".txt", ""}
MOST_LINES = 400
README_MOST_BYTES = 12 * 1024


def _our_texts():
    """Yield every text file of the checkout that is, or could be, committed."""
    for path in sorted(ROOT.rglob("*")):
        parts = path.relative_to(ROOT).parts
        hidden = any(part.endswith((".egg-info", "_cache")) for part in parts)
        if hidden or _NOT_OURS & set(parts) or not path.is_file() or path.suffix not in _TEXT:
            continue
        yield path


def test_ci_runs_readmes_two_commands():
    in_readme = [line for line in README.splitlines() if line.startswith("python3 -m venv ")]
    run = subprocess.run(
        [ROOT / ".ci" / "run", "--commands"],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        cwd="/",
        timeout=60,
        check=True,
    )
    assert run.stdout.splitlines() == in_readme
    assert len(in_readme) == 2
    assert "tonecompare report recordings_demo" in in_readme[0]
    assert in_readme[1].endswith("-m pytest")


def test_readme_opens_with_the_job_and_then_the_commands():
    title, job, _setup = (part.strip() for part in README.split("\n\n", 2))
    assert title == "# Tonecompare"
    assert len(job.split()) > 60
    assert "`" not in job
    assert README.index("```sh\npython3 -m venv") < 2500


def test_readme_is_short():
    assert len(README.encode()) <= README_MOST_BYTES


def test_version_is_written_the_same_everywhere():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == tonecompare.__version__
    changes = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"### {tonecompare.__version__}" in changes


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_links_inside_the_checkout_lead_somewhere(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if target.startswith(("http:", "https:", "mailto:")):
            continue
        file, _, heading = target.partition("#")
        path = ROOT / file if file else ROOT / name
        assert path.exists(), target
        if heading:
            headings = re.findall(r"^#+ (.+)$", path.read_text(encoding="utf-8"), re.M)
            slugs = {re.sub(r"[^\w -]", "", each.lower()).replace(" ", "-") for each in headings}
            assert heading in slugs, target


def test_files_readme_speaks_of_exist():
    for name in ("LICENSE", "DEVELOPERS.md", "recordings_demo"):
        assert (ROOT / name).exists(), name


def test_readme_lists_what_a_report_holds():
    table = README.partition("## What stands in a report")[2].partition("### Verdicts")[0]
    listed = set(re.findall(r"^\| `([^`]+?)/?` \|", table, re.M))
    assert listed == {path.name for path in (ROOT / "reports" / "demo").iterdir()}


def test_no_path_of_one_machine_in_any_text():
    # Home folders, temporary folders of a build, addresses of a local network.
    private = re.compile(
        r"(?<![\w.])/(?:home|Users|root|work|opt|mnt)/\w|[A-Z]:\\Users|file://|localhost:\d"
        r"|\b(?:10|192\.168)\.\d+\.\d+\.\d+\b"
    )
    found = []
    for path in _our_texts():
        if path == Path(__file__):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if hit := private.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {hit[0]}")
    assert found == []


def test_no_module_is_longer_than_the_house_allows():
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in PACKAGE}
    long = {str(path.relative_to(ROOT)): n for path, n in lines.items() if n > MOST_LINES}
    assert long == {}


def test_every_module_says_what_it_is():
    silent = [
        str(path.relative_to(ROOT))
        for path in PACKAGE
        if not path.read_text(encoding="utf-8").startswith(('"""', 'r"""'))
    ]
    assert silent == []


def test_an_installed_copy_has_every_file_that_is_not_python():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = project["tool"]["setuptools"]["package-data"]["tonecompare"]
    package = ROOT / "tonecompare"
    installed = {path for pattern in patterns for path in package.glob(pattern)}
    others = {
        path
        for path in package.rglob("*")
        if path.is_file()
        and path.suffix not in (".py", ".pyc")
        and path.name[0] != "."
        # For those who read and translate, not needed to run it.
        and path.name != "METHOD.md"
        and path.suffix != ".po"
    }
    assert others <= installed
    assert package / "py.typed" in installed
