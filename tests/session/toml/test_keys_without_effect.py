"""What is right in itself and changes nothing is said once."""

from __future__ import annotations

import pytest

from tonecompare.errors import SessionError
from tonecompare.session import load_session

STAGES = '[instruments.heron]\n[stages.one]\n[stages.two]\nfrom = "one"\n'


@pytest.fixture
def remarks(tmp_path):
    def of(toml):
        for stage in ("one", "two"):
            (tmp_path / stage).mkdir(exist_ok=True)
            (tmp_path / stage / "neck.wav").touch()
        (tmp_path / "session.toml").write_text(toml, encoding="utf-8")
        return [r for r in load_session(tmp_path).remarks if "were chosen" not in r]

    return of


@pytest.mark.parametrize(
    ("toml", "said"),
    [
        (STAGES.replace("[stages.two]", 'work = [{what = "x"}]\n[stages.two]'),
         'The work of "one" has no effect on cost and worth: no stage is named'),
        (STAGES + '[worth]\ncurrency = "EUR"\n', "[worth] has no effect: no work has parts_cost"),
        (STAGES + 'work = [{what = "x", parts_cost = 3}]\n[worth]\nhourly_rate = 4\n',
         "[worth] hourly_rate has no effect: no work has hours."),
        (STAGES + "[conditions.bench]\n[conditions.hall]\n",
         "[conditions.bench], [conditions.hall] have no effect"),
        (STAGES + "[voices.neck]\n[voices.piezo]\n", '"piezo" is described under [voices] and'),
    ],
)  # fmt: skip
def test_a_key_without_effect_is_one_sentence(remarks, toml, said):
    found = remarks(toml)
    assert len(found) == 1
    assert said in found[0]


def test_where_every_key_has_its_effect_nothing_is_said(remarks):
    toml = STAGES + 'work = [{what = "x", parts_cost = 3, hours = 1}]\n'
    assert remarks(toml + "[worth]\nhourly_rate = 4\n[voices.neck]\n") == []


def test_corrections_are_read_before_anything_is_measured(remarks, tmp_path):
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "neck.mp3").touch()
    takes = tmp_path / "one" / "takes.csv"
    takes.write_text("file,pluck\nneck.mp3,1\nneck.mp3,2\n")
    (only,) = remarks(STAGES)
    assert only.startswith('one, takes.csv: rows of "neck.mp3" have no effect')
    takes.write_text("file,pluck\nnek.wav,1\n")
    with pytest.raises(SessionError, match=r'Did you mean "neck.wav"'):
        remarks(STAGES)
