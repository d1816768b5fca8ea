"""``tonecompare measure``: table, CSV and JSON of the same numbers."""

from __future__ import annotations

import csv
import io
import json

import pytest

from tonecompare.front.run import session_of_files
from tonecompare.quantities.columns import MEASUREMENTS, QUIET


def test_session_of_files_names_voices_apart(tmp_path):
    files = (tmp_path / "a" / "neck.wav", tmp_path / "b" / "neck.wav", tmp_path / "a" / "neck.wav")
    session = session_of_files(files)
    assert [recording.voice for recording in session.recordings] == ["neck", "neck (2)"]
    assert [recording.files for recording in session.recordings] == [(files[0],), (files[1],)]
    assert session.comparisons == ()


@pytest.mark.usefixtures("pair")
def test_table_names_every_pluck_and_the_quiet(run):
    result = run("measure", "before/neck.wav", "after/neck.wav")
    assert result.exit_code == 0, result.stderr
    plucks, _, quiet = result.stdout.partition("\n\nquiet\n")
    assert plucks.splitlines()[0] == "plucks"
    assert [line for line in plucks.splitlines() if ".wav" in line] == [
        "before/neck.wav, magnetic", "after/neck.wav, magnetic",
    ]  # fmt: skip
    assert plucks.count(" level_dbfs") == 2
    assert plucks.count("  E2  ") % 6 == 0
    assert plucks.count("  A2  ") % 6 == 0
    assert "hum_dbfs" in quiet
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stderr == "Next: tonecompare compare before/neck.wav after/neck.wav\n"


@pytest.mark.usefixtures("pair")
@pytest.mark.parametrize(
    ("arguments", "columns"), [(["--csv"], MEASUREMENTS), (["--csv", "--table", "quiet"], QUIET)]
)
def test_csv_has_the_columns_of_the_contract(run, arguments, columns):
    result = run("measure", "before/neck.wav", *arguments)
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert tuple(rows[0])[: len(columns)] == columns
    assert {row["file"] for row in rows} == {"before/neck.wav"}


@pytest.mark.usefixtures("pair")
def test_json_holds_the_numbers_of_the_csv(run):
    rows = list(csv.DictReader(io.StringIO(run("measure", "before/neck.wav", "--csv").stdout)))
    content = json.loads(run("measure", "before/neck.wav", "--format", "json").stdout)
    assert set(content) == {"plucks", "quiet", "blend", "files"}
    assert len(content["plucks"]) == len(rows) == 6
    for one, other in zip(content["plucks"], rows, strict=True):
        assert one["note"] == other["note"]
        assert one["level_dbfs"] == pytest.approx(float(other["level_dbfs"]), abs=1e-3)
    assert content["files"][0]["n_plucks"] == 6


@pytest.mark.usefixtures("pair")
def test_level_of_the_quieter_take_is_6_db_lower(run):
    # after/neck was made with half the gain: 20 lg 0.5 = -6.02 dB; 0.3 dB scatter per pluck.
    def level(folder):
        text = run("measure", f"{folder}/neck.wav", "--csv").stdout
        levels = [float(row["level_dbfs"]) for row in csv.DictReader(io.StringIO(text))]
        return sum(levels) / len(levels)

    assert level("after") - level("before") == pytest.approx(-6.02, abs=0.5)


def test_csv_and_json_at_once(run):
    result = run("measure", "neck.wav", "--csv", "--format", "json")
    assert result.exit_code == 2
    assert "--csv and --format json contradict each other" in result.stderr


@pytest.mark.usefixtures("pair")
def test_unusable_file_among_good_ones(run, pair):
    (pair / "empty.wav").write_bytes(b"")
    result = run("measure", "before/neck.wav", "empty.wav", "missing.wav", "--csv")
    assert result.exit_code == 1
    assert "Left out: empty.wav: Is empty (0 bytes)." in result.stderr
    assert "Left out: missing.wav: Does not exist." in result.stderr
    assert "before/neck.wav" in result.stdout


@pytest.mark.usefixtures("pair")
def test_only_unusable_files(run):
    result = run("measure", "missing.wav")
    assert result.exit_code == 2
    assert "missing.wav: Does not exist" in result.stderr
    assert result.stdout == ""


@pytest.mark.usefixtures("pair")
def test_a_sound_given_twice_is_not_to_be_compared_with_itself(run):
    assert "Next, for what a column" in run("measure", *["before/neck.wav"] * 2).stderr


@pytest.mark.usefixtures("pair")
def test_a_folder_stands_for_the_recordings_in_it(run, pair):
    result = run("measure", "before", "after/neck.wav", "--csv")
    assert result.exit_code == 0, result.stderr
    rows = csv.DictReader(io.StringIO(result.stdout))
    names = ["before/bridge.wav", "before/neck.wav", "after/neck.wav"]
    assert list(dict.fromkeys(row["file"] for row in rows)) == names
    (pair / "before" / "phone.m4a").touch()
    result = run("measure", "before", "before")
    assert result.exit_code == 1
    assert "Left out: before/phone.m4a: Files of this kind" in result.stderr
    (pair / "phone").mkdir()
    (pair / "phone" / "neck.m4a").touch()
    result = run("measure", "phone")
    assert result.exit_code == 2
    assert (
        "phone: holds no recording that can be used. neck.m4a: Files of this kind" in result.stderr
    )
