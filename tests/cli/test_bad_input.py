"""Bad input end to end: a sentence (what, where), an exit code, and nothing half done."""

from __future__ import annotations

import html
import json
import os
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import soundfile as sf
from click.testing import CliRunner
from small_takes import RATE_HZ, take, write

from tonecompare.cli import main

HOSTILE = ["neck <b>&\"quoted\" 'x' a{{b}}%s", "鷺の首 Грыф – до"]
TITLE = "<script>alert('x')</script> \"鷺\" & co/../.."
REPORT = ("compare", "before", "after", "--out", "out", "--no-clips")


def _names(folder):
    return sorted(path.name for path in folder.iterdir())


def _refused(result, folder, said):
    """Exit code 2, the sentence on stderr, no traceback, and nothing written."""
    assert result.exit_code == 2, result.stderr
    assert re.search(said, result.stderr), result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert "out" not in _names(folder)


# --- what stops the whole comparison ---------------------------------------------------------


def test_missing_folder(run, pair):
    result = run("compare", "before", "afterwards", "--out", "out")
    _refused(result, pair, r"Error: afterwards: there is no such folder")


def test_a_file_in_place_of_a_folder(run, pair):
    result = run("compare", "before/neck.wav", "after", "--out", "out")
    _refused(result, pair, r"before/neck\.wav is a file and after a folder; give files")


def test_empty_folder(run, pair):
    (pair / "empty").mkdir()
    result = run("compare", "before", "empty", "--out", "out")
    _refused(result, pair, r"Error: empty: .*(no recording|no sound file|empty)")


def test_empty_session(run, pair):
    (pair / "empty").mkdir()
    _refused(run("report", "empty", "--out", "out"), pair, r"Error: empty: ")


def test_no_common_voice_names_the_voices_of_both(run, pair):
    (pair / "after" / "neck.wav").rename(pair / "after" / "middle.wav")
    (pair / "after" / "bridge.wav").rename(pair / "after" / "both.wav")
    result = run(*REPORT)
    _refused(result, pair, r"(?s)no voice.*")
    for voice in ("neck", "bridge", "middle", "both"):
        assert voice in result.stderr


def test_the_same_folder_twice(run, pair):
    _refused(run("compare", "before", "before", "--out", "out"), pair, r"before")


def test_every_file_unusable(run, pair):
    for path in (*(pair / "before").iterdir(), *(pair / "after").iterdir()):
        path.write_bytes(b"")
    result = run(*REPORT)
    _refused(result, pair, r"Not one recording could be measured")
    assert result.stderr.count("Is empty (0 bytes)") == 4


def test_misspelt_key_in_session_toml(run, pair):
    (pair / "session.toml").write_text("[instruments.heron]\nscale_lenght_mm = 648\n")
    result = run("report", ".", "--out", "out")
    _refused(result, pair, r"session\.toml: instruments\.heron\.scale_lenght_mm: unknown key")
    assert "scale_length_mm" in result.stderr


# --- bad files among good ones: left out or remarked on, the rest is done ----------------------


def _not_a_number(path):
    samples = take(seed=9)
    samples[1000:1010] = np.nan
    write(path, samples, subtype="FLOAT")


LEFT_OUT = {
    "0-byte": (lambda path: path.write_bytes(b""), r"is empty \(0 bytes\)"),
    "text": (lambda path: path.write_text("Lorem ipsum dolor sit amet. " * 50), r"holds text"),
    "noise-bytes": (
        lambda path: path.write_bytes(np.random.default_rng(3).bytes(20_000)),
        r"not audio",
    ),
    "header-only": (
        lambda path: path.write_bytes(path.read_bytes()[:30]),
        r"header is broken or cut off|holds no samples",
    ),
    "silent": (lambda path: write(path, np.zeros(3 * RATE_HZ)), r"is silent"),
    "nan": (_not_a_number, r"10 samples that are not numbers .*0\.023 s"),
    "too-short": (lambda path: write(path, take()[:500]), r"lasts only 0\.011 s"),
    "three-channels": (lambda path: write(path, np.stack([take()] * 3)), r"has 3 channels"),
}


def _clipped(path):
    write(path, np.clip(30 * take(seed=9), -1, 1 - 2**-23))


def _truncated(path):
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) * 3 // 4])


def _hard_cut(path):
    samples = take(seed=9, notes=("E2",), repeats=3)
    write(path, samples[: -int(1.2 * RATE_HZ)])


def _lossy(path):
    path.unlink()
    sf.write(path.with_suffix(".ogg"), take(seed=9), RATE_HZ, format="OGG", subtype="VORBIS")


NOTED = {
    "clipped": (_clipped, r"cut flat"),
    "truncated": (_truncated, r"ends early"),
    "lossy": (_lossy, r"lossy"),
    "no-quiet": (lambda path: write(path, take(seed=9, quiet_s=0.0)), r"quiet"),
    "8-khz": (lambda path: write(path, take(seed=9, rate_hz=8000), rate_hz=8000), r"8 kHz|8000"),
}  # fmt: skip


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory):
    """One comparison in which every voice but "good" has one of the faults in its after take."""
    folder = tmp_path_factory.mktemp("spoilt")
    good = take(repeats=2, notes=("A2",))
    for voice in ("good", "hard-cut", "truncated", *LEFT_OUT):
        write(folder / "before" / f"{voice}.wav", good)
        write(folder / "after" / f"{voice}.wav", take(repeats=2, seed=2, notes=("A2",)))
    for voice, (spoil, _said) in LEFT_OUT.items():
        spoil(folder / "after" / f"{voice}.wav")
    _hard_cut(folder / "after" / "hard-cut.wav")
    _truncated(folder / "after" / "truncated.wav")
    write(folder / "before" / "one-side.wav", good)
    command = ["compare", folder / "before", folder / "after", "--out", folder / "out"]
    result = CliRunner().invoke(main, [*map(str, command), "--no-clips"])
    return folder, result


def test_the_rest_is_done_and_the_exit_code_says_that_something_was_left_out(spoilt):
    folder, result = spoilt
    assert result.exit_code == 1, result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout.splitlines()[-1] == f"Report: {folder / 'out' / 'index.html'}"
    assert {"index.html", "measurements.csv", "differences.csv"} <= set(_names(folder / "out"))
    assert _names(folder) == ["after", "before", "out"]
    compared = pd.read_csv(folder / "out" / "differences.csv")
    assert set(compared["voice"]) == {"good", "hard-cut", "truncated"}


@pytest.mark.parametrize("voice", LEFT_OUT)
def test_an_unusable_file_is_left_out_and_named_once(spoilt, voice):
    lines = [line for line in spoilt[1].stderr.splitlines() if f"after/{voice}." in line]
    assert len(lines) == 1
    assert re.search(f"^Left out: .*{LEFT_OUT[voice][1]}", lines[0], re.IGNORECASE), lines[0]


def test_a_voice_on_one_side_only_is_named(spoilt):
    assert re.search(r"(Left out|Note): .*one-side", spoilt[1].stderr)


@pytest.mark.parametrize("fault", NOTED)
def test_a_doubtful_file_is_used_and_remarked_on(run, pair, fault):
    spoil, said = NOTED[fault]
    spoil(pair / "after" / "neck.wav")
    (file,) = (pair / "after").glob("neck.*")
    result = run("measure", file.relative_to(pair))
    assert result.exit_code == 0
    assert re.search(rf"Note: after/neck\.(wav|ogg): .*{said}", result.stderr), result.stderr
    assert result.stdout.count("E2") >= 2


def test_remarks_stand_on_the_page_too(spoilt):
    folder, result = spoilt
    (remark,) = [line for line in result.stderr.splitlines() if "after/truncated.wav" in line]
    page = html.unescape((folder / "out" / "index.html").read_text(encoding="utf-8"))
    assert remark.startswith("Note: after/truncated.wav: The file ends early")
    assert remark.removeprefix("Note: after/truncated.wav: ") in page


def test_a_pluck_cut_off_while_ringing_is_flagged_and_has_no_decay_made_up(spoilt):
    plucks = pd.read_csv(spoilt[0] / "out" / "measurements.csv")
    cut = plucks[(plucks["file"] == "after/hard-cut.wav")].iloc[2:]
    assert len(cut)
    assert cut["flags"].str.contains("cut|short").all()
    assert cut["decay_s"].isna().all()


def test_good_recordings_are_not_remarked_on(compared):
    assert [
        line for line in compared[1].stderr.splitlines() if ":" in line and "Note" in line
    ] == []
    assert compared[1].exit_code == 0


# --- names and titles -------------------------------------------------------------------------


def test_hostile_names_and_title_arrive_intact_and_escaped(run, tmp_path, monkeypatch):
    for number, voice in enumerate(HOSTILE):
        for side in ("before", "after"):
            write(tmp_path / side / f"{voice}.wav", take(repeats=2, seed=number, notes=("A2",)))
    (tmp_path / "session.toml").write_text(f'title = """{TITLE}"""\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    result = run("report", ".", "--no-clips")
    assert result.exit_code == 0, result.stderr
    (folder,) = (tmp_path / "reports").iterdir()
    assert result.stdout.splitlines()[-1] == f"Report: {folder.relative_to(tmp_path)}/index.html"
    assert set(pd.read_csv(folder / "differences.csv")["voice"]) == set(HOSTILE)
    page = (folder / "index.html").read_text(encoding="utf-8")
    assert "<b>&" not in page
    assert "<script>alert" not in page
    for text in (*HOSTILE, TITLE):
        assert text in html.unescape(page)


@pytest.mark.usefixtures("no_charts")
def test_names_that_are_no_utf_8_arrive_with_question_marks(pair, run):
    for side in ("before", "after"):
        folder = os.fsencode(pair / side)
        os.rename(folder + b"/neck.wav", folder + b"/ne\xffck.wav")  # noqa: PTH104
    result = run("report", ".", "--out", "out")
    assert result.exit_code == 0, result.stderr
    assert set(pd.read_csv("out/differences.csv")["voice"]) == {"bridge", "ne?ck"}
    assert "ne?ck" in Path("out/index.html").read_text(encoding="utf-8")
    assert result.stdout.splitlines()[-1] == "Report: out/index.html"


@pytest.mark.usefixtures("no_charts")
def test_a_side_without_any_pluck_is_named(pair, run):
    write(pair / "after" / "neck.wav", take(repeats=0, quiet_s=4.0))
    result = run("report", ".", "--no-clips", "--out", "out")
    assert result.exit_code == 1, result.stderr
    said = "after/neck.wav: No pluck was found in it, while before has plucks of this voice"
    assert f"Left out: {said}" in result.stderr
    summary = json.loads(Path("out/summary.json").read_text(encoding="utf-8"))
    assert [one["file"] for one in summary["left_out"]] == ["after/neck.wav"]


# --- things that have the name of a file ------------------------------------------------------


@pytest.mark.usefixtures("no_charts")
def test_a_pipe_or_a_device_is_not_waited_for(pair, run):
    os.mkfifo(pair / "before" / "neck-2.wav")
    result = run("measure", "/dev/zero", "before/neck-2.wav", "before/neck.wav")
    assert result.exit_code == 1
    assert result.stderr.count("pipe or a device") == 1  # of both, in one sentence
    assert "neck-2.wav" in result.stderr
    assert run("report", ".", "--no-clips", "--out", "out").exit_code == 1


@pytest.mark.parametrize("name", ["session.toml", "before/takes.csv"])
@pytest.mark.parametrize("what", ["folder", "link", "pipe"])
def test_what_is_no_file_is_not_taken_for_none(pair, run, name, what):
    {
        "folder": lambda path: path.mkdir(),
        "link": lambda path: path.symlink_to("nowhere"),
        "pipe": os.mkfifo,
    }[what](pair / name)
    result = run("report", ".", "--out", "out")
    _refused(result, pair, re.escape(name) + r": is no file but a folder, a pipe or a link")


@pytest.mark.usefixtures("no_charts")
def test_a_link_back_to_the_session_is_no_stage_of_it(pair, run):
    (pair / "again").symlink_to(pair)
    (pair / "before" / "self").symlink_to(pair / "before")
    result = run("report", ".", "--no-clips", "--out", "out")
    assert result.exit_code == 0, result.stderr
    assert "again" not in result.stderr
    assert "self" not in result.stderr


# --- where the report goes --------------------------------------------------------------------


def test_a_folder_of_something_else_is_not_overwritten(run, pair):
    (pair / "out").mkdir()
    (pair / "out" / "diary.txt").write_text("mine")
    result = run(*REPORT)
    assert result.exit_code == 2
    assert "out" in result.stderr
    assert _names(pair / "out") == ["diary.txt"]


def test_out_is_a_file(run, pair):
    (pair / "out").write_text("mine")
    result = run(*REPORT)
    assert result.exit_code == 2
    assert (pair / "out").read_text() == "mine"


def test_ctrl_c_while_writing_leaves_nothing(run, pair, monkeypatch):
    def stop(*_arguments, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr("tonecompare.compare.compare_session", stop)
    result = run(*REPORT)
    assert result.exit_code == 130
    assert _names(pair) == ["after", "before"]
