"""The report folder: whole or not at all, the same bytes each time, every link resolving."""

from __future__ import annotations

import base64
import csv
import hashlib
import json
import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pandas as pd
import pytest

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.errors import InputError
from tonecompare.measure.model import Measurements
from tonecompare.report import whole_report as write_module
from tonecompare.report import write_report
from tonecompare.report.files import own_files
from tonecompare.report.files.csv_tables import TABLES
from tonecompare.report.files.report_folder import check_replaceable, whole_or_nothing
from tonecompare.report.makers import MADE_BY, MADE_BY_CHECK
from tonecompare.report.page import build_view as build_module

VOID = {"img", "meta", "link", "br", "hr", "input"}


class Page(HTMLParser):
    """Tags with their attributes, ids, and the text of a page; complains about bad nesting."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag):
        assert self._open.pop() == tag

    def handle_data(self, data):
        if self._open and self._open[-1] not in ("style", "script"):
            self.text += data

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]

    def ids(self):
        return [attributes["id"] for _, attributes in self.tags if "id" in attributes]

    def links(self):
        return [
            attributes[key]
            for _, attributes in self.tags
            for key in ("href", "src")
            if key in attributes
        ]


def _write(story, out, **options):
    return write_report(
        story.session, story.measurements, story.comparisons, out, clips=False, **options
    )


@pytest.fixture(scope="module")
def folder(story, tmp_path_factory):
    return _write(story, tmp_path_factory.mktemp("report") / "deep" / "heron")


@pytest.fixture(scope="module")
def page(folder):
    return Page((folder / "index.html").read_text(encoding="utf-8"))


def _files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def _assert_links_resolve(page, folder):
    ids = page.ids()
    assert len(ids) == len(set(ids))
    for link in page.links():
        if link.startswith("#"):
            assert link[1:] in ids
        elif not link.startswith("data:"):
            assert not re.match(r"[a-z]+:|//", link), link
            assert (folder / unquote(link)).is_file(), link


def test_every_link_resolves_and_none_leads_outside(page, folder):
    _assert_links_resolve(page, folder)
    html = (folder / "index.html").read_text(encoding="utf-8")
    assert "http://" not in html
    assert "https://" not in html
    assert not re.search(r"url\((?!#)", html)
    assert "@import" not in html


def test_the_page_opens_with_title_findings_and_table(page):
    text = page.text
    places = [text.index(part) for part in ("Heron rewind", "quieter (", "Verdicts, voice by")]
    assert places == sorted(places)
    items = [attributes for attributes in page.all("li") if attributes.get("class") == "change"]
    assert 1 <= len(items) <= 6


def test_pictures_have_words_and_tables_have_scopes(page):
    pictures = [each for each in page.all("svg") if each.get("role") == "img"]
    # The lead picture in two widths, the overview, five of each voice.
    assert len(pictures) == 2 + 1 + 3 * 5
    assert all(len(picture["aria-label"]) > 20 for picture in pictures)
    assert all(header.get("scope") in ("row", "col") for header in page.all("th"))
    assert page.all("html")[0]["lang"] == "en"
    assert _scripts(page) == 1


def _scripts(page):
    """How many scripts run: what is beside the charts is data."""
    return sum(each.get("type") != "application/json" for each in page.all("script"))


def _csp(html):
    (said,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)
    return said.replace("&#39;", "'")


def _hash(text):
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_the_policy_lets_in_the_one_script_and_style_and_nothing_else(folder):
    html = (folder / "index.html").read_text(encoding="utf-8")
    (script,) = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    (style,) = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    allowed = dict(part.strip().split(" ", 1) for part in _csp(html).split(";"))
    assert allowed["default-src"] == "'none'"
    assert allowed["script-src"] == _hash(script)
    assert allowed["style-src"] == _hash(style)
    assert "unsafe" not in _csp(html)
    assert re.findall(r"<[^>]*\s(?:on\w+|style)=", html) == []


def test_verdicts_are_words_and_symbols_not_colour_alone(page):
    for words in ("likely audible", "no change", "undecided"):
        assert words in page.text
    assert "●" in page.text
    assert "○" in page.text


def test_what_was_left_out_is_named_with_the_reason(page):
    assert "heron-stock/piezo.wav" in page.text
    assert "Is empty (0 bytes). Export or copy it again" in page.text


def test_a_voice_without_curve_says_what_a_curve_takes(folder, small_story, tmp_path):
    said = "No curve of the change over frequency"
    assert said not in (folder / "index.html").read_text(encoding="utf-8")
    bare = replace(small_story.comparisons, responses=(), equalisers=())
    out = write_report(
        small_story.session, small_story.measurements, bare, tmp_path / "bare", clips=False
    )
    assert said in (out / "index.html").read_text(encoding="utf-8")


def test_inputs_carry_their_hashes(page, story):
    for record in story.measurements.files:
        assert record.sha256 in page.text


def test_columns_of_the_files_are_the_contract(folder):
    for name, columns in TABLES.items():
        with (folder / name).open(encoding="utf-8", newline="") as file:
            header = next(csv.reader(file))
        assert header[: len(columns)] == list(columns)


def test_csv_rows_match_the_tables(folder, story):
    with (folder / "differences.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(story.comparisons.differences)
    for row, value in zip(rows, story.comparisons.differences["difference"], strict=True):
        # Seven digits or the sixth decimal, whichever is coarser.
        assert float(row["difference"]) == pytest.approx(value, rel=1e-6, abs=0.5e-6)
    with (folder / "measurements.csv").open(encoding="utf-8", newline="") as file:
        assert all(row["decay_late_s"] == "" for row in csv.DictReader(file))


def test_summary_names_inputs_findings_verdicts_and_files(folder, story):
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert summary["schema"] == 2
    assert summary["title"] == "Heron rewind"
    assert [item["sha256"] for item in summary["inputs"]] == [
        record.sha256 for record in story.measurements.files
    ]
    assert summary["versions"]["tonecompare"]
    assert summary["findings"][0]["text"].startswith("Neck (split): ")
    assert sum(summary["verdicts"]["heron-stock to heron-rewound"].values()) == 3 * 8
    files = _files(folder)
    assert summary["files"] == {
        name: hashlib.sha256(data).hexdigest()
        for name, data in files.items()
        if name != "summary.json"
    }


def test_the_same_results_give_the_same_bytes(small_story, tmp_path):
    one, other = _write(small_story, tmp_path / "a"), _write(small_story, tmp_path / "b")
    assert _files(one) == _files(other)


def test_steps_are_told(small_story, tmp_path):
    steps: list[str] = []
    _write(small_story, tmp_path / "r", progress=steps.append)
    assert steps[-1] == "Writing"
    assert any("Bridge" in step for step in steps)


@pytest.mark.usefixtures("no_charts")
def test_the_sheet_alone_is_asked_for_in_the_page_itself(small_story, tmp_path):
    for sheet_only in (True, False):
        folder = _write(small_story, tmp_path / str(sheet_only), sheet_only=sheet_only)
        html = (folder / "index.html").read_text(encoding="utf-8")
        assert ('<html lang="en" class="sheet-only">' in html) is sheet_only
        assert 'id="sheet"' in html


@pytest.mark.usefixtures("no_charts")
def test_marks_that_turn_a_name_around_are_shown(small_story, tmp_path):
    title = "Heron\u202ednetta\x1b"
    folder = write_report(
        replace(small_story.session, title=title), small_story.measurements,
        small_story.comparisons, tmp_path / "r", clips=False,
    )  # fmt: skip
    html = (folder / "index.html").read_text(encoding="utf-8")
    assert "\u202e" not in html
    assert "\x1b" not in html
    assert html.count("Heron⟨U+202E⟩dnetta⟨U+001B⟩") == 2


HOSTILE = ['<b>bold</b> & "q"', "../../up", "日本語", "$x_1$", "a/b\\c", "=1+1", "neck split"]


def _renamed(story, names):
    """The story with its voices and title renamed."""
    voices = list(story.session.voices)
    new = dict(zip(voices, names, strict=False))

    def rename(table):
        return table.assign(voice=table["voice"].map(lambda voice: new.get(voice, voice)))

    return (
        replace(story.session, title='<script>alert("1")</script> – 音 & "x"'),
        replace(
            story.measurements,
            plucks=rename(story.measurements.plucks),
            quiet=rename(story.measurements.quiet),
        ),
        replace(
            story.comparisons,
            differences=rename(story.comparisons.differences),
            responses=tuple(
                replace(one, voice=new.get(one.voice, one.voice))
                for one in story.comparisons.responses
            ),
        ),
    )


@pytest.mark.parametrize("start", [0, 3])
def test_hostile_names_arrive_whole_and_escaped(story, tmp_path, monkeypatch, start):
    def empty_charts(album, pair, *, name):
        return drawn(album, replace(pair, before={}, after={}), name=name)

    # Empty panels draw fast, and names are written in them all the same.
    drawn = build_module.voice_pictures
    monkeypatch.setattr(build_module, "voice_pictures", empty_charts)
    names = HOSTILE[start : start + 3]
    folder = write_report(*_renamed(story, names), tmp_path / "r", clips=False)
    page = Page((folder / "index.html").read_text(encoding="utf-8"))
    assert _scripts(page) == 1
    assert page.all("b") == []
    text = page.text.replace("\N{NO-BREAK SPACE}", " ")
    for name in (*names, '<script>alert("1")</script> – 音 & "x"'):
        assert name in text
    _assert_links_resolve(page, folder)
    charts = [path.name for path in (folder / "charts").iterdir()]
    assert len(charts) == 1 + 3 * 5
    assert all(re.fullmatch(r"[a-z0-9-]+\.svg", name) for name in charts)


def _fail(*_args, **_options):
    raise RuntimeError("broken on purpose")


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
@pytest.mark.usefixtures("no_charts")
def test_a_failure_leaves_nothing_behind(small_story, tmp_path, monkeypatch, error):
    def fail(*_args, **_options):
        raise error("broken on purpose")

    monkeypatch.setattr(write_module, "summary_text", fail)
    with pytest.raises(error, match="broken on purpose"):
        _write(small_story, tmp_path / "new" / "deep" / "report")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("no_charts")
def test_a_failure_keeps_the_earlier_report(small_story, tmp_path, monkeypatch):
    folder = _write(small_story, tmp_path / "report")
    before = _files(folder)
    monkeypatch.setattr(write_module, "page_html", _fail)
    with pytest.raises(RuntimeError, match="broken on purpose"):
        _write(small_story, folder)
    assert _files(folder) == before
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


@pytest.mark.usefixtures("no_charts")
def test_files_of_the_earlier_report_go_with_it(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    fresh = _files(folder)
    # An earlier report that had one chart more, listed with its checksum.
    shutil.rmtree(folder)
    with whole_or_nothing(folder) as work:
        (work / "charts").mkdir()
        (work / "charts" / "stale.png").write_bytes(b"old")
        (work / "summary.json").write_text(json.dumps({"made_by": MADE_BY}), encoding="utf-8")
    assert (folder / "charts" / "stale.png").exists()
    _write(small_story, folder)
    assert _files(folder) == fresh
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


MINE = ("notes.txt", "clips/my-take.flac", "charts/annotated.png", ".git/HEAD", ".DS_Store")


@pytest.mark.usefixtures("no_charts")
def test_what_the_user_put_into_the_folder_stays(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    for name in MINE:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(f"my {name}".encode())
    (folder / "for later").mkdir()
    (folder / "link").symlink_to("notes.txt")
    said: list[str] = []
    _write(small_story, folder, notice=said.append)
    for name in MINE:
        assert (folder / name).read_bytes() == f"my {name}".encode()
    assert (folder / "for later").is_dir()
    assert (folder / "link").readlink() == Path("notes.txt")
    assert said == []
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


@pytest.mark.usefixtures("no_charts")
def test_an_edited_page_is_kept_beside_and_named(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    fresh = _files(folder)
    for number in (1, 2):
        (folder / "index.html").write_text(f"my words {number}", encoding="utf-8")
        said: list[str] = []
        _write(small_story, folder, notice=said.append)
        name = "index.edited.html" if number == 1 else "index.edited-2.html"
        assert said == [
            f"index.html was changed since it was written: your version is kept as {name}."
        ]
    after = _files(folder)
    assert after.pop("index.edited.html") == b"my words 1"
    assert after.pop("index.edited-2.html") == b"my words 2"
    assert after == fresh


@pytest.mark.usefixtures("no_charts")
def test_an_edited_summary_and_a_name_taken_are_kept_beside(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    summary = (folder / "summary.json").read_text(encoding="utf-8")
    edited = summary.replace("Heron rewind", "My heron")
    (folder / "summary.json").write_text(edited, encoding="utf-8")
    said: list[str] = []
    _write(small_story, folder, notice=said.append)
    assert (folder / "summary.edited.json").read_text(encoding="utf-8") == edited
    assert len(said) == 1
    with whole_or_nothing(folder, notice=said.append) as work:
        (work / "summary.json").write_text(json.dumps({"made_by": MADE_BY}), encoding="utf-8")
        (work / "summary.edited.json").write_text("ours now", encoding="utf-8")
    assert (folder / "summary.edited-2.json").read_text(encoding="utf-8") == edited
    assert "summary.edited.json is yours and has the name of a file" in said[-1]


@pytest.mark.usefixtures("no_charts")
def test_a_failure_while_bringing_things_along_loses_nothing(small_story, tmp_path, monkeypatch):
    folder = _write(small_story, tmp_path / "report")
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    before = _files(folder)
    monkeypatch.setattr(own_files, "_link", _fail)
    with pytest.raises(RuntimeError, match="broken on purpose"):
        _write(small_story, folder)
    assert _files(folder) == before
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


@pytest.mark.usefixtures("no_charts")
def test_a_report_that_lists_no_checksums_is_left_alone(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    summary["files"] = sorted(summary["files"])
    (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    before = _files(folder)
    with pytest.raises(InputError, match="report of another version"):
        _write(small_story, folder)
    assert _files(folder) == before


@pytest.mark.parametrize("out", [".", ".."])
def test_the_folder_one_is_in_is_no_place_for_a_report(small_story, tmp_path, monkeypatch, out):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    with pytest.raises(InputError, match="is the folder you are in"):
        _write(small_story, Path(out))
    assert [path.name for path in tmp_path.rglob("*")] == ["here"]


@pytest.mark.usefixtures("no_charts")
def test_the_second_look_before_the_switch_counts(small_story, tmp_path):
    folder = _write(small_story, tmp_path / "report")
    text = json.dumps({"made_by": MADE_BY_CHECK})

    def write() -> None:
        with whole_or_nothing(folder) as work:
            (work / "summary.json").write_text(json.dumps({"made_by": MADE_BY}), encoding="utf-8")
            # While it is being made, a check takes the place.
            (folder / "summary.json").write_text(text, encoding="utf-8")

    with pytest.raises(InputError, match="holds a check, which a report would replace"):
        write()
    assert (folder / "summary.json").read_text(encoding="utf-8") == text


def test_a_folder_with_other_things_is_left_alone(small_story, tmp_path):
    mine = tmp_path / "songs"
    mine.mkdir()
    (mine / "take.wav").write_bytes(b"precious")
    with pytest.raises(InputError, match="other things in it, not an earlier report"):
        _write(small_story, mine)
    assert _files(mine) == {"take.wav": b"precious"}


@pytest.mark.usefixtures("no_charts")
def test_report_and_check_do_not_replace_each_other(small_story, tmp_path):
    report = _write(small_story, tmp_path / "report")
    check = tmp_path / "check"
    with whole_or_nothing(check, by=MADE_BY_CHECK) as work:
        text = json.dumps({"made_by": MADE_BY_CHECK})
        (work / "summary.json").write_text(text, encoding="utf-8")
        (work / "index.html").write_text("a check", encoding="utf-8")
    with pytest.raises(InputError, match="holds a check, which a report would replace"):
        _write(small_story, check)
    assert (check / "index.html").read_text(encoding="utf-8") == "a check"
    with pytest.raises(InputError, match="holds a report, which a check would replace"):
        check_replaceable(report, by=MADE_BY_CHECK)
    check_replaceable(check, by=MADE_BY_CHECK)


@pytest.mark.parametrize("text", ["{}", "[]", "not json", '{"made_by": "someone else"}'])
def test_a_summary_of_someone_else_is_no_report(small_story, tmp_path, text):
    (tmp_path / "summary.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="not an earlier report"):
        _write(small_story, tmp_path)
    assert (tmp_path / "summary.json").read_text(encoding="utf-8") == text


@pytest.mark.usefixtures("no_charts")
def test_an_empty_folder_is_filled(small_story, tmp_path):
    assert (_write(small_story, tmp_path) / "index.html").is_file()


def test_a_file_in_the_way_is_named(small_story, tmp_path):
    place = tmp_path / "report"
    place.write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match="report: is a file"):
        _write(small_story, place)


def test_a_file_among_the_parents_is_named(small_story, tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match=r"Choose another place with --out"):
        _write(small_story, tmp_path / "file" / "report")


def test_a_report_of_nothing_says_so(small_story, tmp_path):
    nothing = Measurements(pd.DataFrame(), pd.DataFrame(), pd.DataFrame())
    session = replace(small_story.session, left_out=())
    folder = write_report(session, nothing, Comparisons(no_rows()), tmp_path / "r")
    page = Page((folder / "index.html").read_text(encoding="utf-8"))
    assert "Nothing was compared" in page.text
    assert "Nothing could be compared" in page.text
    _assert_links_resolve(page, folder)
    shutil.rmtree(folder)
