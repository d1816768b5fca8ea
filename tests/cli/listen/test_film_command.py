"""``tonecompare film``: one file from recordings."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from tonecompare.cli import main


def test_without_the_extra_it_says_what_to_install(pair, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    said = CliRunner().invoke(main, ["film", str(pair)])
    assert said.exit_code == 2
    assert 'pip install "tonecompare[film]"' in said.output


@pytest.mark.slow
def test_a_film_of_a_session(pair):
    av = pytest.importorskip("av")
    arguments = ["film", str(pair), "--workers", "1", "--scenes", "1", "--for", "square",
                 "--voice", "neck", "--out", "film.mp4", "--progress"]  # fmt: skip
    said = CliRunner().invoke(main, arguments)
    assert said.exit_code == 0, said.output
    assert "s left" in said.output
    with av.open(str(pair / "film.mp4")) as file:
        assert (file.streams.video[0].width, file.streams.video[0].height) == (1080, 1080)
        assert sum(1 for _ in file.decode(video=0)) == file.streams.video[0].frames
    # A film that is there is not written over.
    assert CliRunner().invoke(main, arguments).exit_code == 2
    arguments[arguments.index("film.mp4")] = "film.avi"
    assert CliRunner().invoke(main, arguments).exit_code == 2
