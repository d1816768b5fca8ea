"""README's commands, session.toml and takes.csv are the program's own, and every help's example."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tonecompare.cli import main
from tonecompare.cli.shown.spoken_help import in_words
from tonecompare.session import read_overrides, read_session_toml

TEXT = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")


def real_output(command: str) -> str:
    """Return what ``tonecompare … --help`` prints on a terminal of 80 columns."""
    result = CliRunner().invoke(
        main, command.split()[1:], prog_name="tonecompare", terminal_width=80
    )
    assert result.exit_code == 0, result.output
    return result.output


def test_every_command_is_named():
    table = TEXT.partition("## Commands\n")[2].partition("```")[0]
    named = set(re.findall(r"^\| `tonecompare (\w+)` \|", table, re.M))
    assert set(main.commands) <= named
    assert named - set(main.commands) <= {"explain"}


@pytest.mark.parametrize("name", main.commands)
def test_every_help_has_an_example_that_parses(name):
    examples = re.findall(r"^ +tonecompare (.+)$", real_output(f"tonecompare {name} --help"), re.M)
    assert examples
    for line in examples:
        words = shlex.split(line.partition(">")[0])
        in_words(main.commands[words[0]]).make_context(words[0], words[1:])


def _shell_lines():
    for block in re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL):
        yield from block.splitlines()


def test_every_command_line_of_readme_parses():
    lines = [
        part for line in _shell_lines() for part in line.split(" && ") if "tonecompare " in part
    ]
    assert lines
    for line in lines:
        words = shlex.split(line.partition("tonecompare ")[2])
        assert words[0] in main.commands, line
        try:
            in_words(main.commands[words[0]]).make_context(words[0], words[1:])
        except click.UsageError as error:
            pytest.fail(f"{line}: {error.format_message()}")


def test_the_takes_csv_of_readme_is_read(tmp_path):
    (example,) = re.findall(r"```csv\n(.*?)```", TEXT, re.DOTALL)
    (tmp_path / "takes.csv").write_text(example, encoding="utf-8")
    overrides = read_overrides(tmp_path / "takes.csv")
    assert not overrides["neck.wav", 7].use
    assert overrides["neck.wav", 12].note == "B3"
    assert overrides["neck.wav", 12].string == 2
    assert overrides["bridge.wav", 3].onset_s == 14.62


def test_the_session_toml_of_readme_is_read(tmp_path):
    (example,) = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    (tmp_path / "session.toml").write_text(example, encoding="utf-8")
    told = read_session_toml(tmp_path / "session.toml")
    assert told.title == "Heron: bridge pickup rewound"
    assert told.stages["heron-rewound"].from_stage == "heron-stock"
    assert told.stages["heron-rewound"].work[0].hours == 2.5
    assert told.voices["both"].outputs == ("magnetic", "piezo")
    assert told.comparisons[0].control_after == "wren-second"
    assert told.conditions["bench"].input_impedance_ohm == 1e6
    assert told.worth.hourly_rate == 45
