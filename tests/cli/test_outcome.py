"""Errors become a sentence and an exit code; a traceback appears only with --debug."""

from __future__ import annotations

import signal
from contextlib import suppress
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tonecompare.cli import main
from tonecompare.cli.outcome import hear_ctrl_c, name_left_out, with_exit_code, wrote
from tonecompare.errors import InputError, RecordingError
from tonecompare.session.model import LeftOut


def _run(action, *arguments):
    @click.command()
    @with_exit_code
    def command():
        return action()

    return CliRunner().invoke(command, arguments)


def _raising(error):
    def action():
        raise error

    return action


def test_the_exit_code_is_what_the_command_returns():
    assert [_run(lambda code=code: code).exit_code for code in (0, 1)] == [0, 1]


def test_input_error_is_said_without_a_traceback():
    result = _run(_raising(RecordingError(Path("a.wav"), "is empty (0 bytes)", "Export it again.")))
    assert result.exit_code == 2
    assert result.stderr == "Error: a.wav: is empty (0 bytes). Export it again.\n"
    assert result.stdout == ""


def test_file_system_errors_name_the_file():
    result = _run(_raising(PermissionError(13, "Permission denied", "reports/x")))
    assert result.exit_code == 2
    assert "reports/x: Permission denied. Check the path" in result.stderr


def test_a_terminal_that_takes_nothing_does_not_hide_that_a_report_was_written():
    def action():
        wrote(Path("reports/x"))
        raise OSError(28, "No space left on device")

    assert _run(action).stderr.endswith("free space. reports/x was written before that, whole.\n")


def test_too_little_memory_is_no_fault():
    result = _run(_raising(MemoryError()))
    assert result.exit_code == 2
    assert "There is not enough memory." in result.stderr


def test_internal_error_says_how_to_report_it():
    result = _run(_raising(KeyError("f0_hz")))
    assert result.exit_code == 3
    assert "Internal error (KeyError: 'f0_hz')" in result.stderr
    assert "--debug" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("error", [KeyError("f0_hz"), InputError("no"), OSError("no")])
def test_debug_shows_the_traceback(error):
    result = _run(_raising(error), "--debug")
    assert "Traceback" in result.stderr
    assert type(error).__name__ in result.stderr


def test_ctrl_c_ends_with_130():
    result = _run(_raising(KeyboardInterrupt()))
    assert result.exit_code == 130
    assert "Stopped. Nothing was written." in result.stderr


def test_ctrl_c_after_the_work_does_not_deny_it():
    def function():
        wrote(Path("reports/heron"))
        raise KeyboardInterrupt

    result = _run(function)
    assert result.exit_code == 130
    written = Path("reports/heron")
    assert f"Stopped. {written} was written before that, whole." in result.stderr


def test_usage_errors_stay_clicks_own():
    result = _run(_raising(click.BadParameter("no such thing")))
    assert result.exit_code == 2
    assert "Usage:" in result.stderr


def test_left_out_recordings_are_named_once_each(capsys):
    one = LeftOut("a.wav", "is silent")
    two = LeftOut("b.wav", "b.wav: is empty (0 bytes).")
    assert name_left_out([one, two, one]) == 1
    assert capsys.readouterr().err == (
        "Left out: a.wav: is silent\nLeft out: b.wav: is empty (0 bytes).\n"
    )


def test_files_left_out_for_one_reason_share_a_sentence(capsys):
    assert name_left_out([LeftOut(f"{n}.m4a", "No. Convert it.") for n in range(12)]) == 1
    said = capsys.readouterr().err
    assert said.count("Convert it") == 1
    assert "0.m4a, 1.m4a, 2.m4a, 3.m4a, 4.m4a, 5.m4a and 6 more: No." in said


def test_nothing_left_out_is_success(capsys):
    assert name_left_out([]) == 0
    assert capsys.readouterr().err == ""


@pytest.fixture
def _ctrl_c():
    """A program that ended in this process leaves Ctrl-C ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def _drop_ctrl_c():
    with suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


@pytest.mark.usefixtures("_ctrl_c")
def test_ctrl_c_that_was_dropped_is_heard_at_the_next_step_and_at_the_end():
    done = []

    def at_the_end():
        _drop_ctrl_c()
        done.append("rest")
        return 0

    def at_a_step():
        _drop_ctrl_c()
        hear_ctrl_c()
        done.append("never")

    for action in (at_the_end, at_a_step):
        result = _run(action)
        assert (result.exit_code, result.stderr) == (130, "\nStopped. Nothing was written.\n")
    assert done == ["rest"]


@pytest.mark.usefixtures("_ctrl_c")
@pytest.mark.parametrize("error", [ImportError("initialization failed"), InputError("no"), OSError])
def test_ctrl_c_that_a_library_took_for_an_error_is_a_stop(error):
    def action():
        _drop_ctrl_c()
        raise error

    assert _run(action).stderr == "\nStopped. Nothing was written.\n"


def test_ctrl_c_before_a_command_has_begun_is_a_stop(monkeypatch):
    def stopped(*_given, **_named):
        raise KeyboardInterrupt

    monkeypatch.setattr(click.Group, "make_context", stopped)
    result = CliRunner().invoke(main, ["explain"])
    assert (result.exit_code, result.stderr) == (130, "\nStopped.\n")
