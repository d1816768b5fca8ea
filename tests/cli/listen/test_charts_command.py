"""``tonecompare charts``: pictures of a session on disk."""

from __future__ import annotations

from click.testing import CliRunner

from tonecompare.cli import main


def test_charts_are_written_by_name_and_by_findings(pair):
    common = [str(pair), "--workers", "1", "--out", "pictures"]
    said = CliRunner().invoke(main, ["charts", *common, "--for", "square", "--look", "dark"])
    assert said.exit_code == 0, said.output
    names = sorted(path.name for path in (pair / "pictures").glob("*.png"))
    assert "square-closing.png" in names
    said = CliRunner().invoke(main, ["charts", *common, "--chart", "hum", "--for", "page"])
    assert said.exit_code == 0, said.output
    assert [path.name for path in (pair / "pictures").iterdir() if path.suffix != ".json"] == [
        "page-before-to-after-hum.svg"
    ]
    said = CliRunner().invoke(main, ["charts", *common, "--chart", "nonsense"])
    assert said.exit_code == 2
    assert "It gives: brightness, hum" in said.output
    said = CliRunner().invoke(main, ["charts", *common, "--chart", "cost"])
    assert "cost" not in said.output, "there is none, and so it is not offered"
    for option in ("--voice", "--comparison"):
        said = CliRunner().invoke(main, ["charts", *common, option, "nowhere"])
        assert said.exit_code == 2, "all of the others were drawn"
        assert '"nowhere" to choose here' in said.output
