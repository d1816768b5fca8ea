"""Imports run one way, and the command line starts without the heavy libraries."""

from __future__ import annotations

import ast
import importlib
import json
import re
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

import tonecompare

PACKAGE = Path(tonecompare.__file__).parent
#: What everybody from the takes on may use.
COMMON = {"errors", "language", "units", "arrays"}
#: What each part of the house may import of it: those left of it in the flow, and the shared
#: modules (lazy is everybody's). Nobody but the demo command in cli uses strings.
MAY_USE = {
    "lazy": set(),
    "language": set(),
    "errors": {"language"},
    "arrays": set(),
    "whole_file": set(),
    "units": {"errors", "arrays"},
    "quantities": COMMON,
    "session": {"errors", "language", "whole_file"},
    "takes": {*COMMON, "session"},
    "kept": {"session", "__init__"},
    "workers": {"errors", "language", "session", "kept"},
    "measure": {*COMMON, "workers", "quantities", "session", "takes", "kept"},
    "compare": {*COMMON, "workers", "quantities", "session", "takes", "measure"},
    "report": {*COMMON, "workers", "quantities", "session", "takes", "measure", "compare"},
    "strings": {*COMMON, "session", "takes"},
    "cli": {
        *COMMON, "whole_file", "workers", "quantities", "session", "takes", "kept", "measure",
        "compare", "report", "strings", "front",
    },
    "front": {*COMMON, "__init__", "quantities", "session", "takes", "measure", "compare",
              "report"},
    "__init__": {"front", "session", "takes", "measure", "compare", "report"},
    "__main__": {"cli", "language", "utf8_names"},
    "utf8_names": set(),
}  # fmt: skip
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
#: About a dozen (design): more than this is a corridor.
MOST_DOORS = 13


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


@cache
def trees() -> dict[Path, ast.Module]:
    """Return every module of the package, parsed when the first test asks and not before."""
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in FILES}


def test_imports_run_one_way():
    offenders = {}
    for path, tree in trees().items():
        part = part_of(path)
        assert part in MAY_USE, f"{part} is new: say in this test what it may import"
        names = imported(tree, path)
        wrong = parts_used(names) - {part, "lazy"} - MAY_USE[part]
        wrong |= {name.split(".")[0] for name in names} & MUST_NOT_USE.get(part, set())
        if wrong:
            offenders[path.relative_to(PACKAGE).as_posix()] = wrong
    assert offenders == {}


def test_no_star_imports():
    assert [
        path.relative_to(PACKAGE).as_posix()
        for path, tree in trees().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and any(alias.name == "*" for alias in node.names)
    ] == []


def private_parts_used(tree: ast.AST) -> list[str]:
    """Return what a file takes of others that is not meant to be taken: a name with one underscore
    of an object that is not the class's own, or of a module outside the package."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and re.match(r"_[^_]", node.attr):
            owner = ast.unparse(node.value)
            if owner not in ("self", "cls"):
                found.append(f"{owner}.{node.attr}")
        elif isinstance(node, ast.Import | ast.ImportFrom):
            module = (getattr(node, "module", None) or "").split(".")
            names = [*module, *(part for alias in node.names for part in alias.name.split("."))]
            if module[0] != "tonecompare" and not getattr(node, "level", 0):
                found += [name for name in names if re.match(r"_[^_]", name)]
    return found


def test_the_reader_of_private_parts_sees_every_kind():
    tree = ast.parse(
        "from __future__ import annotations\nfrom scipy.signal import _peaks\n"
        "import numpy._core as core\nfrom pandas._libs import x\n"
        "meter(1)._filters\nself._own\nnumber.__class__\n"
    )
    assert sorted(private_parts_used(tree)) == ["_core", "_libs", "_peaks", "meter(1)._filters"]


def test_nothing_depends_on_private_parts_of_others():
    used = {path.relative_to(PACKAGE).as_posix(): private_parts_used(tree)
            for path, tree in trees().items()}  # fmt: skip
    assert {name: parts for name, parts in used.items() if parts} == {}


#: A compared session writes itself with ``saved``, and ``saved`` gives one back. The results of a
#: session name the type of what was measured on both outputs.
KNOWN_PAIR = {
    "tonecompare.front.results", "tonecompare.front.saved",
    "tonecompare.measure.model", "tonecompare.measure.outputs.results",
}  # fmt: skip
#: Inner floors, the lowest first: what stands on one may use what stands below it and what stands
#: beside it in its own room. A room's name covers the rooms in it; other names are modules.
FLOORS = {
    "measure": (
        ("flags", "resonances"), ("measured",), ("table",), ("model", "signal"), ("quiet",),
        ("partials",), ("decay",), ("outputs",), ("pluck",), ("place",), ("single_pluck", "voice"),
        ("played",), ("take",), ("session",), ("inspected_takes",),
    ),
    "compare": (
        ("cause_facts", "model", "thresholds", "selector", "planned", "reasons", "listening"),
        ("voices_paired",),
        ("comb_bands", "glide_covariate"), ("comb_correction",),
        ("difference",), ("side_by_side",),
        ("response", "curves"), ("causes",), ("bench", "notes", "guitars"),
        ("comparisons", "run"), ("worth", "check"),
    ),
    "report": (
        ("makers", "difference_views"), ("words",), ("sounds", "word_links"), ("charts",),
        ("files",), ("page",), ("blind",), ("video",), ("shown_in_full",), ("whole_report",),
    ),
}  # fmt: skip


def inner_name(parts: tuple[str, ...], names: frozenset[str]) -> str | None:
    """Return the room or module of a floor that a module inside a part belongs to."""
    return parts[0] if parts and parts[0] in names else None


@pytest.mark.parametrize("part", FLOORS)
def test_inside_a_part_imports_go_down(part):
    floor = {name: number for number, names in enumerate(FLOORS[part]) for name in names}
    offenders = []
    for path, tree in trees().items():
        if part_of(path) != part or path == PACKAGE / part / "__init__.py":
            continue
        here = inner_name(path.relative_to(PACKAGE / part).with_suffix("").parts, frozenset(floor))
        assert here is not None, f"{path.name} stands on no floor of {part}: say where"
        for name in imported(tree, path):
            used = name.removeprefix(f"tonecompare.{part}.").split(".")[0]
            known = {name, f"tonecompare.{part}.{here}"} <= KNOWN_PAIR or "BlendResult" in name
            down = floor.get(used, -1) <= floor[here]
            if name.startswith(f"tonecompare.{part}.") and not down and not known:
                offenders.append(f"{here} uses {used}")
    assert sorted(set(offenders)) == []


def modules_by_name() -> dict[str, Path]:
    found = {}
    for path in FILES:
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def test_no_module_uses_itself_in_a_circle():
    modules = modules_by_name()
    uses = {
        name: {used for used in imported(trees()[path], path) if used in modules and used != name}
        for name, path in modules.items()
        if path.name != "__init__.py"
    }
    reach = {name: set(used) for name, used in uses.items()}
    changed = True
    while changed:
        changed = False
        for far in reach.values():
            more = set().union(*(reach.get(other, set()) for other in far)) - far
            if more:
                far |= more
                changed = True
    assert {name for name, far in reach.items() if name in far} <= KNOWN_PAIR


def test_rooms_have_few_doors():
    doors = Counter(path.parent.relative_to(PACKAGE).as_posix() for path in FILES
                    if path.name != "__init__.py")  # fmt: skip
    assert {room: count for room, count in doors.items() if count > MOST_DOORS} == {}


def test_no_two_modules_of_one_name_in_neighbouring_rooms():
    rooms: dict[Path, set[str]] = {}
    for path in FILES:
        if path.name != "__init__.py":
            rooms.setdefault(path.parent, set()).add(path.stem)
    assert [
        (one.relative_to(PACKAGE).as_posix(), other.relative_to(PACKAGE).as_posix(), name)
        for one, names in rooms.items()
        for other, others in rooms.items()
        if PACKAGE not in (one, other) and (one.parent == other or (one.parent == other.parent
            and one.parent != PACKAGE and str(one) < str(other)))
        for name in sorted(names & others)
    ] == []  # fmt: skip


def test_no_class_of_one_name_twice():
    classes: dict[str, list[str]] = {}
    for path, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                classes.setdefault(node.name, []).append(path.relative_to(PACKAGE).as_posix())
    assert {name: where for name, where in classes.items() if len(where) > 1} == {}


def test_one_array_type():
    assert [
        path.relative_to(PACKAGE).as_posix()
        for path in FILES
        if re.search(r"^FloatArray\b.*=", path.read_text(encoding="utf-8"), re.M)
    ] == ["arrays.py"]


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules a fresh interpreter holds after running ``code``."""
    script = f"import sys, json\n{code}\nprint('\\n' + json.dumps(sorted(sys.modules)))"
    run = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True
    )
    every = json.loads(run.stdout.splitlines()[-1])
    return {name.split(".")[0] for name in every} | ({"scipy.stats"} & set(every))


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


def test_what_only_comparing_needs_is_not_waited_for():
    """Measuring starts without data frames, and an unchanged report is written again without more
    of scipy than its parts that are asked for."""
    again = "tonecompare.kept.checksums, tonecompare.report.blind.results"
    again += ", tonecompare.report.files.kept_report"
    assert not loaded_after(f"import {again}") & {"pandas", "scipy.stats", "matplotlib"}
    assert not loaded_after("import tonecompare.measure.session") & {"pandas", "matplotlib"}
    assert "scipy.stats" in loaded_after("import scipy.stats")


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


def sentences_in(tree: ast.AST) -> list[str]:
    """Return the texts of a file, but for its docstrings and errors, that read like sentences."""
    quiet = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise):
            quiet |= {id(part) for part in ast.walk(node)}
        body = getattr(node, "body", None)
        for one in body if isinstance(body, list) else ():
            if isinstance(one, ast.Expr):
                quiet.add(id(one.value))
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in quiet
        if len(node.value.split()) > 2 and re.search(r"[.!?;,](\s|$)", node.value)
    ]


def test_measure_and_compare_make_no_sentences():
    tree = ast.parse(
        '"""What it does."""\nx = "The hum rose by 3 dB."\n'
        'def f():\n    """Say so."""\n    raise ValueError("It is not so.")\n'
    )
    assert sentences_in(tree) == ["The hum rose by 3 dB."]
    rooms = {path: path.relative_to(PACKAGE).parts for path in FILES}
    said = {
        path.name: sentences_in(trees()[path])
        for path, (part, *rest) in rooms.items()
        # Where each hearing threshold comes from is a citation.
        if part == "compare" and rest[0] != "thresholds.py"
    }
    assert {name: texts for name, texts in said.items() if texts} == {}
    # Methods and reasons are phrases, told in a table; none is a whole sentence.
    whole = {
        path.name: [text for text in sentences_in(trees()[path]) if text.endswith(".")]
        for path, (part, *_) in rooms.items()
        if part == "measure"
    }
    # An internal fault asks for the file.
    assert {name: texts for name, texts in whole.items() if texts} == {
        "session.py": [
            "Could not be measured because of a fault in tonecompare ({what}). Please report it "
            "with the file."
        ]
    }


def statistics_in(tree: ast.AST) -> set[str]:
    """Return the averages, spreads and quantiles a file works out."""
    of_values = {"mean", "nanmean", "median", "nanmedian", "std", "nanstd", "var", "nanvar", "ppf"}
    return {
        node.func.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        if node.func.attr in of_values
    }


def test_report_works_out_no_statistic():
    tree = ast.parse("np.nanmean(x)\nrows['a'].median()\nstats.t.ppf(0.975, 3)\nnp.max(x)\n")
    assert statistics_in(tree) == {"nanmean", "median", "ppf"}
    found = {
        path.relative_to(PACKAGE).as_posix(): statistics_in(trees()[path])
        for path in FILES if part_of(path) == "report"
    }  # fmt: skip
    # Notes are put in order by their middle pitch; clips are brought to one loudness.
    assert {name: calls for name, calls in found.items() if calls} == {
        "report/page/build_view.py": {"median"}, "report/sounds/cuts.py": {"median"},
        "report/sounds/loudness.py": {"mean"},
    }  # fmt: skip
