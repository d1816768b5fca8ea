"""The command line of check: answers, JSON, page, corrections, exit codes."""

from __future__ import annotations

import html
import json
import re
from urllib.parse import unquote

import numpy as np
import soundfile as sf
from small_takes import take, write

CLEAN = {"t60_s": 2.0, "hum": 3e-5}


def session(folder, *, neck=None):
    """Write a stage of two voices; the notes fall by 25 dB before they end."""
    write(folder / "stock" / "bridge.wav", take(seed=1, slope=0.6, **CLEAN))
    write(folder / "stock" / "neck.wav", take(seed=2, slope=1.3, **CLEAN) if neck is None else neck)
    return folder


def clipped():
    return np.clip(take(seed=2, slope=1.3, **CLEAN) * 6.0, -1.0, 1.0)


def test_go(tmp_path, monkeypatch, run):
    monkeypatch.chdir(tmp_path)
    session(tmp_path / "heron")
    result = run("check", "heron")
    assert result.exit_code == 0, result.output
    assert "Go: the takes are good" in result.output
    assert "2 files, 12 plucks: no faults." in result.output
    assert (tmp_path / "reports" / "heron check" / "index.html").is_file()


def test_no_go_says_what_to_record_again(tmp_path, run):
    session(tmp_path / "heron", neck=clipped())
    result = run("check", tmp_path / "heron", "--out", tmp_path / "page")
    assert result.exit_code == 1
    assert "No-go" in result.output
    assert re.search(r"\[record again\] neck\.wav at \d\.\d s: clipping", result.output)
    table = result.output.split("Record again", 1)[1]
    assert re.search(r"neck\.wav +.*clipping", table)


def test_json_holds_every_fault_and_no_nan(tmp_path, run):
    session(tmp_path / "heron", neck=clipped())
    result = run("check", tmp_path / "heron", "--json", "--out", tmp_path / "page")

    def refuse(name):
        raise AssertionError(name)

    data = json.loads(result.stdout, parse_constant=refuse)
    written = json.loads((tmp_path / "page" / "summary.json").read_text(encoding="utf-8"))
    assert list(written.pop("files")) == ["index.html"]
    assert len(written.pop("own_sha256")) == 64
    assert data == written
    (stage,) = data["stages"]
    assert stage["answer"] == "no-go"
    fault = next(f for f in stage["faults"] if f["kind"] == "clipping")
    assert set(fault) >= {"what", "why", "remedy", "file", "time_s", "severity", "voice"}
    assert fault["file"] == "stock/neck.wav"
    assert {"voice": "neck", "file": "stock/neck.wav", "kind": "clipping"} in stage["record_again"]
    level = next(r for r in stage["can_show"] if r["quantity"] == "level_dbfs")
    assert level["unit"] == "dB"
    assert level["smallest"] > 0


def test_page_is_self_contained_and_plays_the_recordings(tmp_path, run):
    folder = tmp_path / 'he"r <b>on'
    session(folder)
    (folder / "stock" / "neck.wav").rename(folder / "stock" / "ne<ck & 弦.wav")
    run("check", folder, "--out", tmp_path / "out" / "page")
    text = (tmp_path / "out" / "page" / "index.html").read_text(encoding="utf-8")
    assert "<b>on" not in text
    assert html.escape("ne<ck & 弦.wav") in text
    assert not re.search(r'(?:src|href)="(?:https?:)?//', text)
    players = re.findall(r'<audio [^>]*src="([^"]+)"', text)
    assert len(players) == 2
    for address in players:
        sound = (tmp_path / "out" / "page" / unquote(html.unescape(address))).resolve()
        assert sf.info(sound).duration > 5
    for anchor in re.findall(r'href="#([^"]+)"', text):
        assert f'id="{anchor}"' in text
    # Two files with two notes each: a label where a note begins, a mark per pluck.
    assert text.count(">E2</text>") == 2
    assert text.count('class="ring"') == 12


def test_write_takes_leaves_spoilt_plucks_out_and_overwrites_nothing(tmp_path, run):
    session(tmp_path / "heron", neck=clipped())
    arguments = ("check", tmp_path / "heron", "--write-takes", "--out", tmp_path / "page")
    result = run(*arguments)
    path = tmp_path / "heron" / "stock" / "takes.csv"
    rows = path.read_text(encoding="utf-8").splitlines()
    assert rows[0] == "file,pluck,onset_s,note,string,use,reason"
    assert any(re.fullmatch(r"neck\.wav,\d,,,,no,.*clipping.*", row) for row in rows[1:])
    assert not any(row.startswith("bridge.wav") for row in rows)
    assert "written" in result.stderr
    path.write_text("file,pluck,use\nneck.wav,1,no\n", encoding="utf-8")
    again = run(*arguments)
    assert "left alone" in again.stderr
    assert path.read_text(encoding="utf-8") == "file,pluck,use\nneck.wav,1,no\n"


def test_unknown_stage_and_unusable_input(tmp_path, run):
    session(tmp_path / "heron")
    result = run("check", tmp_path / "heron", "--stage", "rewound")
    assert result.exit_code == 2
    assert "the stages are stock" in result.stderr
    result = run("check", tmp_path / "nowhere")
    assert result.exit_code == 2
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("mine")
    result = run("check", tmp_path / "heron", "--out", tmp_path / "full")
    assert result.exit_code == 2
    assert "left alone" in result.stderr
    assert (tmp_path / "full" / "letter.txt").read_text() == "mine"
