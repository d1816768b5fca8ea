"""Options shared by commands, and the folder a report goes to by itself."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tonecompare.cli.options import cores, default_out, mains_option, workers_option


@pytest.mark.parametrize(
    ("title", "folder"),
    [
        ("Heron rewound", "Heron rewound"),
        ("a/b\\c", "a-b-c"),
        ('He said "loud" <b>', "He said -loud- -b"),
        ("../../etc", "etc"),
        ("..", "report"),
        ("", "report"),
        ("   \n\t ", "report"),
        ("鷺 – до и после", "鷺 – до и после"),
        ("nul\x00byte", "nul-byte"),
    ],
)
def test_default_out_keeps_what_a_folder_name_can_hold(title, folder):
    assert default_out(title) == Path("reports") / folder


def test_default_out_of_a_very_long_title_fits_a_file_system():
    name = default_out("鷺" * 300).name
    assert 100 < len(name.encode()) <= 200
    assert set(name) == {"鷺"}


@click.command()
@workers_option
@mains_option
def _show(*, workers, mains_hz):
    click.echo(f"{workers} {mains_hz}")


@pytest.mark.parametrize(
    ("arguments", "shown"),
    [
        ([], f"{cores()} None"),
        (["--workers", "3", "--mains", "50"], "3 50.0"),
        (["--mains", "60"], f"{cores()} 60.0"),
    ],
)
def test_workers_and_mains(arguments, shown):
    assert CliRunner().invoke(_show, arguments).output.strip() == shown


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--workers", "0"], "0 is less than 1"),
        (["--mains", "55"], "'55' is not one of '50', '60'"),
    ],
)
def test_bad_values_are_refused(arguments, said):
    result = CliRunner().invoke(_show, arguments)
    assert result.exit_code == 2
    assert said in result.output
