"""takes.csv: what a person, or a spreadsheet, may have written into it."""

from __future__ import annotations

import unicodedata

import pytest

from tonecompare.errors import SessionError
from tonecompare.session import Override, read_overrides, stage_overrides, write_overrides

HEAD = "file,pluck,onset_s,note,string,use,reason\n"


def write(folder, text):
    path = folder / "takes.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def complaints(folder, text):
    with pytest.raises(SessionError) as caught:
        read_overrides(write(folder, text))
    return str(caught.value)


def test_every_column_arrives(tmp_path):
    text = HEAD + 'neck.wav,3,2.184,Eb3,5,no,"buzz, on fret 3"\nneck/E2.1.wav,1,,,,,\n'
    assert read_overrides(write(tmp_path, text)) == {
        ("neck.wav", 3): Override("neck.wav", 3, 2.184, "D#3", 5, False, "buzz, on fret 3"),
        ("neck/E2.1.wav", 1): Override("neck/E2.1.wav", 1),
    }


def test_columns_may_be_missing_or_stand_in_another_order(tmp_path):
    found = read_overrides(write(tmp_path, "Use,pluck,file\nNO,2,neck.wav\n"))
    assert found == {("neck.wav", 2): Override("neck.wav", 2, use=False)}


def test_what_spreadsheets_do_is_understood(tmp_path):
    text = "\ufefffile;pluck;onset_s;note\r\nsub\\neck.wav;4;2,5;E2\r\n;;;\r\n\r\n"
    found = read_overrides(write(tmp_path, text))
    assert found == {("sub/neck.wav", 4): Override("sub/neck.wav", 4, 2.5, "E2")}
    tabs = "file\tpluck\tonset_s\nneck.wav\t1\t0.25\n"
    assert read_overrides(write(tmp_path, tabs))["neck.wav", 1].onset_s == 0.25


@pytest.mark.parametrize(
    ("row", "where", "pieces"),
    [
        (",1,,,,,", "line 2, file", ["a file name"]),
        ("a.wav,,,,,,", "line 2, pluck", ["1, 2, 3"]),
        ("a.wav,0,,,,,", "line 2, pluck", ['found "0"']),
        ("a.wav,1.5,,,,,", "line 2, pluck", ['found "1.5"']),
        ("a.wav,1,-1,,,,", "line 2, onset_s", ["seconds from the start"]),
        ('a.wav,1,"1,5",,,,', "line 2, onset_s", ['found "1,5"']),
        ("a.wav,1,inf,,,,", "line 2, onset_s", ['found "inf"']),
        ("a.wav,1,nan,,,,", "line 2, onset_s", ['found "nan"']),
        ("a.wav,1,,H2,,,", "line 2, note", ['did you mean "B2"']),
        ("a.wav,1,,E,,,", "line 2, note", ["octave is missing"]),
        ("a.wav,1,,,0,,", "line 2, string", ["1 = thinnest"]),
        ("a.wav,1,,,,maybe,", "line 2, use", ['"yes" or "no"']),
        ("a.wav,1,,,,,x,y", "line 2", ["8 cells for 7 columns"]),
    ],
)
def test_bad_cells_are_named(tmp_path, row, where, pieces):
    said = complaints(tmp_path, HEAD + row + "\n")
    assert f"takes.csv: {where}: " in said
    for piece in pieces:
        assert piece in said


def test_all_bad_cells_come_at_once(tmp_path):
    said = complaints(tmp_path, HEAD + "a.wav,x,,,,,\na.wav,1,,,99,,\na.wav,2,,,,,\n")
    assert "2 problems" in said
    assert "line 2, pluck" in said
    assert "line 3, string" in said


def test_a_pluck_stands_there_once(tmp_path):
    said = complaints(tmp_path, HEAD + "a.wav,1,,,,,\nb.wav,1,,,,,\na.wav,1,,,,no,\n")
    assert "line 4: pluck 1 of a.wav is on line 2 already" in said


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("", "is empty; the first line names the columns"),
        ("pluck,onset\n", 'unknown column "onset". Did you mean "onset_s"?'),
        ("pluck,note\n1,E2\n", 'the column "file" is missing'),
        ("file,pluck,file\n", 'the column "file" stands there twice'),
        ('file,pluck\n"a.wav,1\n', "cannot be read as CSV"),
        ("file,pluck\nkäfer.wav,1\n".encode("latin-1"), "not UTF-8"),
    ],
)
def test_a_file_that_is_no_takes_csv(tmp_path, text, piece):
    assert piece in complaints(tmp_path, text)


def test_written_rows_come_back(tmp_path):
    rows = [
        Override("a, b.wav", 1, 0.123456, "E2", 6),
        Override('"нек".wav', 2, None, "", None, False, "fret buzz;\nagain"),
    ]
    write_overrides(tmp_path / "takes.csv", rows)
    back = read_overrides(tmp_path / "takes.csv")
    assert list(back.values()) == rows


def test_an_existing_file_is_never_overwritten(tmp_path):
    path = write(tmp_path, "mine")
    with pytest.raises(SessionError, match="exists already"):
        write_overrides(path, [])
    assert path.read_text() == "mine"


def test_a_stage_without_the_file_has_no_overrides(tmp_path):
    assert stage_overrides(tmp_path) == {}


def test_files_of_a_stage_are_matched_to_those_there(tmp_path):
    apart = unicodedata.normalize("NFD", "élan.wav")
    for name in ("Neck.wav", apart):
        (tmp_path / name).touch()
    composed = unicodedata.normalize("NFC", "élan.wav")
    write(tmp_path, f"{HEAD}neck.wav,1,,,,no,\n{composed},2,,,,no,\n")
    keys = set(stage_overrides(tmp_path))
    if not (tmp_path / "neck.wav").exists():
        assert keys == {("Neck.wav", 1), (apart, 2)}
    assert {pluck for _, pluck in keys} == {1, 2}


def test_a_file_that_is_not_there_is_asked_about(tmp_path):
    (tmp_path / "neck").mkdir()
    (tmp_path / "neck" / "E2.1.wav").touch()
    write(tmp_path, HEAD + "neck/E2.l.wav,1,,,,no,\n")
    with pytest.raises(SessionError, match=r'no such file here. Did you mean "neck/E2.1.wav"'):
        stage_overrides(tmp_path)


@pytest.mark.parametrize("file", ["../other/neck.wav", "{there}", "C:\\neck.wav", "notes.txt"])
def test_rows_of_what_is_no_recording_of_the_stage_are_refused(tmp_path, file):
    for name in ("stage/neck.wav", "stage/notes.txt", "other/neck.wav"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    file = file.format(there=tmp_path / "other" / "neck.wav")
    write(tmp_path / "stage", HEAD + f"{file},1,,,,no,\n")
    said = "no such file here" if file == "notes.txt" else "leads out of the stage folder"
    with pytest.raises(SessionError, match=said):
        stage_overrides(tmp_path / "stage")


@pytest.mark.parametrize("row", ["neck.wav,1\0,,,,,", "ne\0ck.wav,1,,,,,"])
def test_a_sign_that_is_no_text_is_told_with_its_line(tmp_path, row):
    told = complaints(tmp_path, f"{HEAD}neck.wav,2,,,,,\n{row}\n")
    assert f"line 3, column {row.index(chr(0)) + 1}" in told
    assert "Delete it" in told
