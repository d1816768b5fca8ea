"""``tonecompare demo``: writes the session it says it writes. Its content is tested elsewhere."""

from __future__ import annotations

import pytest

from tonecompare.strings.demo_session import write_demo_files as demo_module


@pytest.fixture
def short_demo(monkeypatch):
    """Make only the shortest recording of the demo: what is tested here is the command."""
    shortest = min(demo_module.demo_recordings(), key=lambda each: each.length_s)
    monkeypatch.setattr(demo_module, "demo_recordings", lambda: (shortest,))
    return shortest


def test_demo_writes_a_session_and_says_where(run_plain, tmp_path, short_demo):
    result = run_plain("demo", tmp_path / "demo", "--progress")
    assert result.exit_code == 0, result.stderr
    assert result.stdout == f"Demo session: {tmp_path / 'demo'}\n"
    following = f"Next: tonecompare report {tmp_path / 'demo'}\n"
    assert result.stderr == f"Made 1 of 1: {short_demo.file}\n{following}"
    assert (tmp_path / "demo" / short_demo.file).stat().st_size > 10_000
    assert (tmp_path / "demo" / "session.toml").exists()


def test_another_session_is_not_overwritten(run_plain, tmp_path):
    (tmp_path / "session.toml").write_text("title = 'mine'\n")
    result = run_plain("demo", tmp_path)
    assert result.exit_code == 2
    assert "session.toml: there is another session in this folder" in result.stderr
    assert (tmp_path / "session.toml").read_text() == "title = 'mine'\n"


def test_files_of_the_demos_names_are_not_overwritten(run_plain, tmp_path):
    (tmp_path / "README.md").write_text("mine")
    result = run_plain("demo", tmp_path)
    assert result.exit_code == 2
    assert "README.md: exists already and is not of a demo" in result.stderr
    assert (tmp_path / "README.md").read_text() == "mine"
    assert list(tmp_path.iterdir()) == [tmp_path / "README.md"]


def test_a_demo_half_written_is_written_again(run_plain, tmp_path, short_demo):
    assert run_plain("demo", tmp_path / "demo").exit_code == 0
    (tmp_path / "demo" / "README.md").unlink()
    (tmp_path / "demo" / short_demo.file).write_bytes(b"half")
    assert run_plain("demo", tmp_path / "demo").exit_code == 0
    assert (tmp_path / "demo" / short_demo.file).stat().st_size > 10_000


def test_a_file_in_the_way_is_an_error_in_words(run_plain, tmp_path):
    (tmp_path / "demo").write_text("mine")
    result = run_plain("demo", tmp_path / "demo")
    assert result.exit_code == 2
    assert "Traceback" not in result.stderr
