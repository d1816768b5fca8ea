"""The map is true: every path that DEVELOPERS.md and the METHOD.md files name is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "tonecompare"
METHODS = sorted(PACKAGE.rglob("METHOD.md"))
#: Rooms that measure or judge: each says how, beside its code.
JUDGING = ("takes", "measure", "compare")
#: Files that a user has, not the checkout.
_OF_USERS = {"session.toml", "takes.csv", "summary.json"}


def named_paths(text: str) -> set[str]:
    """Return what a text names as a file or folder of the checkout."""
    quoted = set(re.findall(r"`([\w/]+\.(?:py|md|csv|json|toml))`", text))
    folders = set(re.findall(r"`((?:tonecompare|tests)(?:/\w+)+)/?`", text))
    run = set(re.findall(r"python (?:-m pytest )?(tests/[\w/.]+)", text))
    linked = set(re.findall(r"\]\(((?:tonecompare|tests)/[\w/.]+)\)", text))
    return (quoted | folders | run | linked) - _OF_USERS


def missing(document: Path) -> list[str]:
    """Return the named paths that are neither in the checkout nor beside the document."""
    homes = (ROOT, document.parent, PACKAGE)
    return [
        name
        for name in sorted(named_paths(document.read_text(encoding="utf-8")))
        if not any((home / name).exists() for home in homes)
        and not (document.parent == ROOT and any(PACKAGE.rglob(name)))
    ]


def rooms() -> list[Path]:
    """Return every folder of the package that holds code."""
    return sorted({path.parent for path in PACKAGE.rglob("*.py")})


def test_every_path_the_documents_name_is_there() -> None:
    lost = {
        str(path.relative_to(ROOT)): missing(path) for path in [ROOT / "DEVELOPERS.md", *METHODS]
    }
    assert {document: names for document, names in lost.items() if names} == {}


def test_a_path_that_is_not_there_is_noticed(tmp_path: Path) -> None:
    page = tmp_path / "METHOD.md"
    page.write_text("`tonecompare/measure/hum.py`, `nowhere.py`, `python tests/accuracy/gone.py`")
    assert missing(page) == ["nowhere.py", "tests/accuracy/gone.py", "tonecompare/measure/hum.py"]


def test_the_map_names_every_room() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    unnamed = [
        str(room.relative_to(ROOT))
        for room in rooms()
        if room not in (PACKAGE, PACKAGE / "report")
        and f"| `{room.relative_to(ROOT)}` |" not in text
    ]
    assert unnamed == []


def test_every_room_says_what_it_is_for() -> None:
    silent = []
    for room in rooms():
        door = room / "__init__.py"
        said = (
            ast.get_docstring(ast.parse(door.read_text(encoding="utf-8"))) if door.exists() else ""
        )
        if not said or (room != PACKAGE and "?" not in said):
            silent.append(str(room.relative_to(ROOT)))
    assert silent == []


def test_every_room_that_measures_or_judges_says_how() -> None:
    without = [
        str(room.relative_to(ROOT))
        for room in rooms()
        if room != PACKAGE
        and room.relative_to(PACKAGE).parts[0] in JUDGING
        and room / "METHOD.md" not in METHODS
    ]
    assert without == []


def test_the_map_answers_at_least_ten_questions_with_a_file() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Where is …?")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| (Where [^|]+\?) \| `([^`]+)` \|$", table, re.M)
    assert len(rows) >= 10
    assert all((ROOT / file).is_file() for _question, file in rows)


def doors_lost(room: Path) -> list[str]:
    """Return what a room's door says that others use and the room does not have."""
    listed = re.findall(
        r"^``(\w+)``: (.+(?:\n    .+)*)", (room / "__init__.py").read_text(encoding="utf-8"), re.M
    )
    lost = []
    for module, names in listed:
        if (room / module).is_dir():
            continue
        path = room / f"{module}.py"
        there = set(re.findall(r"\w+", path.read_text(encoding="utf-8") if path.exists() else ""))
        lost += [f"{module}: {n}" for n in re.findall(r"\w+", names) if n not in there]
    return lost


def test_every_door_that_a_room_names_is_there() -> None:
    lost = {str(room.relative_to(PACKAGE)): doors_lost(room) for room in rooms()}
    assert {room: names for room, names in lost.items() if names} == {}
