"""Options shared by commands, and the folder a report goes to by itself."""

from __future__ import annotations

import sys
from pathlib import Path

import click
import pandas as pd
import pytest
from click.testing import CliRunner

from tonecompare.cli import main, options
from tonecompare.cli.options import cores, default_out, mains_option, workers_option


@pytest.mark.parametrize(
    "words", [["report", ""], ["report", "x", "--out="], ["charts", "x", "--voice", ""]]
)
def test_a_word_that_is_empty_stands_for_nothing(words):
    """As a path it would be the folder somebody happens to be in, as a filter every name."""
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "A word of the command is empty" in result.stderr


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
        (["--workers", "1" + "0" * 20], f"{8 * cores()} None"),
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


@pytest.mark.usefixtures("pair")
@pytest.mark.parametrize(
    "arguments",
    [
        ("measure", "before/neck.wav"),
        ("compare", "before", "after"),
        ("report", "."),
        ("check", "."),
        ("plan", "planned"),
    ],
)
def test_every_command_that_names_strings_refuses_what_is_no_tuning(run_plain, arguments):
    result = run_plain(*arguments, "--tuning", "E1,A1,H2")
    assert result.exit_code == 2
    assert 'tuning "E1,A1,H2": "H2" is no note name (did you mean "B2"?)' in result.stderr


@pytest.mark.usefixtures("pair", "no_charts")
@pytest.mark.parametrize("arguments", [("compare", "before", "after"), ("report", ".")])
def test_the_tuning_given_reaches_the_tables(run, arguments):
    # E2 can only be the open lowest of these three strings, and that is number 3.
    result = run(*arguments, "--tuning", "E2,A2,D3", "--out", "out", "--no-clips")
    assert result.exit_code == 0, result.stderr
    plucks = pd.read_csv("out/measurements.csv")
    assert set(plucks[plucks["note"] == "E2"]["string"]) == {3}


def test_workers_are_as_many_as_cores_and_memory_allow(monkeypatch):
    monkeypatch.setattr(options, "cores", lambda: 8)
    for available_kb, limit, workers in (
        (8 << 20, None, 8), (1 << 20, None, 2), (100, None, 1), (8 << 20, 900 << 20, 2),
        (None, None, 8),
    ):  # fmt: skip
        told = {"/proc/meminfo": available_kb, "/sys/fs/cgroup/memory.max": limit}
        monkeypatch.setattr(options, "_number_in", lambda path, _, told=told: told[str(path)])
        assert options.workers_that_fit() == workers


@pytest.mark.parametrize(
    "words",
    [
        ["{}"],
        ["report", "{}", "{}"],
        ["report", "--{}"],
        ["report", "s", "--workers", "{}"],
        ["measure", "a.wav", "--format", "{}"],
        ["explain", "{}"],
        ["report", "{}"],
        ["plan", "x", "--minutes", "{}"],
    ],
)
def test_a_refused_word_does_not_steer_the_terminal(run_plain, words):
    result = run_plain(*(word.format("a\x1b[2J\x07\u202e") for word in words))
    assert result.exit_code == 2
    assert not {"\x1b", "\x07", "\u202e"} & set(result.output)
    assert r"a\x1b[2J\x07\u202e" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--engine", "dask"), "--engine dask needs --scheduler ADDRESS"),
        (("--scheduler", "tcp://127.0.0.1:1"), "--scheduler is for --engine dask"),
        (("--engine", "ray"), "'ray' is not one of 'here', 'dask'"),
    ],
)
@pytest.mark.parametrize("command", [("measure", "a.wav"), ("report", "."), ("check", ".")])
def test_a_cluster_is_asked_for_with_both_its_options(command, arguments, said):
    result = CliRunner().invoke(main, [*command, *arguments])
    assert result.exit_code == 2
    assert said in result.output


@pytest.mark.usefixtures("pair")
def test_without_the_extra_one_sentence_says_how_to_install_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    address = ("--engine", "dask", "--scheduler", "tcp://127.0.0.1:1")
    result = CliRunner().invoke(main, ["measure", "before/neck.wav", *address])
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        "Error: --engine dask needs dask.distributed. Install it with: "
        'pip install "tonecompare[cluster]"'
    ]
