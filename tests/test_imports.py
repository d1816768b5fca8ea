"""Imports run one way, and the command line starts without the heavy libraries."""

from __future__ import annotations

import ast
import importlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

import tonecompare

PACKAGE = Path(tonecompare.__file__).parent
#: What each part of the house may import of it: those left of it in the flow, and the shared
#: modules (lazy is everybody's). Nobody but the demo command in cli uses strings.
MAY_USE = {
    "lazy": set(),
    "errors": set(),
    "arrays": set(),
    "units": {"errors", "arrays"},
    "quantities": {"errors", "arrays", "units"},
    "session": {"errors"},
    "takes": {"errors", "units", "arrays", "session"},
    "measure": {"errors", "units", "arrays", "quantities", "session", "takes"},
    "compare": {"errors", "units", "arrays", "quantities", "session", "takes", "measure"},
    "report": {"errors", "units", "arrays", "quantities", "session", "takes", "measure", "compare"},
    "strings": {"errors", "units", "arrays", "session", "takes"},
    "cli": {
        "errors",
        "units",
        "arrays",
        "quantities",
        "session",
        "takes",
        "measure",
        "compare",
        "report",
        "strings",
        "front",
    },
    "front": {
        "__init__",
        "errors",
        "units",
        "arrays",
        "quantities",
        "session",
        "takes",
        "measure",
        "compare",
        "report",
    },
    "__init__": {"front", "session", "takes", "measure", "compare", "report"},
    "__main__": {"cli"},
}
#: Libraries a part must not touch, not even inside a function.
MUST_NOT_USE = {
    "session": {"numpy", "librosa", "matplotlib", "pandas", "soundfile", "click"},
    "takes": {"matplotlib", "click"},
    "measure": {"matplotlib", "click", "soundfile"},
    "compare": {"matplotlib", "click", "soundfile"},
    "report": {"click"},
    "front": {"click", "soundfile"},
    "strings": {"click", "matplotlib"},
    "errors": {"numpy"},
}
HEAVY = {"numpy", "scipy", "librosa", "matplotlib", "pandas", "numba", "soundfile", "joblib"}
FILES = sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(tree: ast.AST, path: Path) -> set[str]:
    """Return every module a file imports, anywhere in it, in full ("tonecompare.session.load")."""
    here = ("tonecompare", *path.relative_to(PACKAGE).parent.parts)
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(here[: len(here) - node.level + 1]) if node.level else ""
            module = ".".join(part for part in (base, node.module) if part)
            names.add(module)
            names |= {f"{module}.{alias.name}" for alias in node.names}
    return names


def parts_used(names: set[str]) -> set[str]:
    known = {part_of(path) for path in FILES}
    used = {name.split(".")[1] for name in names if name.startswith("tonecompare.")}
    return used & known


def test_the_reader_of_imports_sees_every_kind():
    tree = ast.parse(
        "import tonecompare.report.page.layout\nfrom tonecompare import compare\n"
        "from tonecompare.takes.read import x\n"
        "def f():\n    from ..measure import y\n    import numpy.linalg as la\n"
    )
    names = imported(tree, PACKAGE / "session" / "x.py")
    assert parts_used(names) == {"report", "compare", "takes", "measure"}
    assert {name.split(".")[0] for name in names} >= {"numpy", "tonecompare"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_imports_run_one_way(path):
    part = part_of(path)
    assert part in MAY_USE, f"{part} is new: say in this test what it may import"
    names = imported(ast.parse(path.read_text(encoding="utf-8")), path)
    assert parts_used(names) - {part, "lazy"} <= MAY_USE[part]
    assert not {name.split(".")[0] for name in names} & MUST_NOT_USE.get(part, set())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_star_imports(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert all(alias.name != "*" for alias in node.names)


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules a fresh interpreter holds after running ``code``."""
    script = f"import sys, json\n{code}\nprint('\\n' + json.dumps(sorted(sys.modules)))"
    run = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True
    )
    return {name.split(".")[0] for name in json.loads(run.stdout.splitlines()[-1])}


@pytest.mark.parametrize(
    "code",
    [
        "import tonecompare",
        "import tonecompare.session, tonecompare.takes, tonecompare.measure",
        "import tonecompare.compare, tonecompare.report, tonecompare.strings, tonecompare.front",
        "import tonecompare.session.load, tonecompare.session.overrides",
        "import tonecompare.quantities.compared, tonecompare.quantities.words",
        "import tonecompare.cli",
        "from tonecompare.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit: pass",
    ],
    ids=["package", "left parts", "right parts", "session", "quantities", "cli", "help"],
)
def test_no_heavy_library_is_loaded(code):
    loaded = loaded_after(code)
    assert "tonecompare" in loaded
    assert not loaded & HEAVY


def test_a_heavy_library_would_be_seen():
    assert "numpy" in loaded_after("import tonecompare.units")


PARTS = [part for part in MAY_USE if (PACKAGE / part / "__init__.py").exists()]


@pytest.mark.parametrize("part", PARTS)
def test_every_public_name_loads(part):
    module = importlib.import_module(f"tonecompare.{part}")
    for name in getattr(module, "__all__", ()):
        assert getattr(module, name) is not None


@pytest.mark.parametrize("part", PARTS)
def test_an_unknown_name_is_refused_by_name(part):
    with pytest.raises(ImportError, match="cannot import name 'nonsense'"):
        exec(f"from tonecompare.{part} import nonsense")
