"""session.toml: everything design says it may hold is read, everything else is refused by name."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from tonecompare.errors import InputError, SessionError
from tonecompare.session import ComparisonSpec, WorkItem, Worth, read_session_toml

FULL = """
title = "Heron — «before & after»"
mains_hz = 50
a4_hz = 442

[conditions.bench]
interface_gain_db = 24
input_impedance_ohm = 1e6
cable_length_m = 3
cable_pf_per_m = 100
full_scale_volts = 1.9
strings_gauge = "10-46"
strings_hours = 2.5
pick = "1 mm"
room = "bench"

[instruments.heron]
scale_length_mm = 648
tuning = ["E2", "A2", "D3", "G3", "B3", "E4"]
strings = 6

[instruments."the wren"]
tuning = "D2 A2 D3 G3 Bb3 E♭4"

[stages.stock]
instrument = "heron"
date = 2026-03-02
conditions = "bench"
ratings = {neck = 6.5}

[stages.rewound]
instrument = "Heron"
from = "stock"
date = 2026-04-02
work = [{what = "rewind", parts_cost = 18, hours = 2.5}, {what = "setup"}]

[stages.day-1]
instrument = "the wren"
[stages.day-2]
instrument = "the wren"
from = "day-1"

[voices.neck]
pickups = ["neck north", "neck south"]
split = true
output = "magnetic"
pickup_distance_mm = 160
[voices.both]
outputs = ["magnetic", "piezo"]

[[comparisons]]
before = "stock"
after = "rewound"
control_before = "day-1"
control_after = "day-2"

[worth]
currency = "EUR"
hourly_rate = 60

[hearing_thresholds]
level_db = 0.8
"""


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "session.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def complaints(folder: Path, text: str) -> str:
    with pytest.raises(SessionError) as caught:
        read_session_toml(write(folder, text))
    return str(caught.value)


def test_every_key_arrives(tmp_path):
    told = read_session_toml(write(tmp_path, FULL))
    assert told.title == "Heron — «before & after»"
    assert (told.mains_hz, told.a4_hz) == (50.0, 442.0)
    bench = told.conditions["bench"]
    assert bench.name == "bench"
    assert (bench.interface_gain_db, bench.input_impedance_ohm) == (24.0, 1e6)
    assert (bench.cable_length_m, bench.cable_pf_per_m, bench.full_scale_volts) == (3, 100, 1.9)
    assert (bench.strings_gauge, bench.strings_hours) == ("10-46", 2.5)
    assert (bench.pick, bench.room) == ("1 mm", "bench")
    assert told.instruments["heron"].scale_length_mm == 648.0
    assert told.instruments["heron"].tuning == ("E2", "A2", "D3", "G3", "B3", "E4")
    assert told.instruments["the wren"].tuning == ("D2", "A2", "D3", "G3", "A#3", "D#4")
    stock, rewound = told.stages["stock"], told.stages["rewound"]
    assert stock.folder == tmp_path / "stock"
    assert (stock.date, stock.conditions, stock.from_stage) == (date(2026, 3, 2), "bench", None)
    assert stock.ratings == {"neck": 6.5}
    assert (rewound.instrument, rewound.from_stage) == ("heron", "stock")
    assert rewound.work == (WorkItem("rewind", 18.0, 2.5), WorkItem("setup"))
    neck = told.voices["neck"]
    assert (neck.pickups, neck.split) == (("neck north", "neck south"), True)
    assert (neck.outputs, neck.pickup_distance_mm) == (("magnetic",), 160.0)
    assert told.voices["both"].outputs == ("magnetic", "piezo")
    assert told.comparisons == (ComparisonSpec("stock", "rewound", "day-1", "day-2"),)
    assert told.worth == Worth("EUR", 60.0)
    assert told.hearing_thresholds == {"level_db": 0.8}


def test_an_empty_file_says_nothing(tmp_path):
    told = read_session_toml(write(tmp_path, ""))
    assert (told.title, told.mains_hz, told.a4_hz) == (tmp_path.name, None, 440.0)
    assert not told.stages
    assert not told.comparisons


def test_byte_order_mark_and_windows_line_ends_are_accepted(tmp_path):
    plain = read_session_toml(write(tmp_path, FULL))
    windows = read_session_toml(write(tmp_path, "\ufeff" + FULL.replace("\n", "\r\n")))
    assert windows == plain


def test_the_example_in_the_readme_is_read(tmp_path):
    readme = (Path(__file__).resolve().parents[3] / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```toml\n(.*?)```", readme, re.DOTALL)
    assert blocks
    for block in blocks:
        read_session_toml(write(tmp_path, block))


H = '[instruments.heron]\n[stages.stock]\ninstrument = "heron"\n'

# (text, dotted key, pieces of the sentence)
REFUSED = [
    ('titel = "x"', "titel", ["unknown key", 'Did you mean "title"?', "Allowed here: a4_hz"]),
    ("title = 3", "title", ["found 3 (a number)", "text in quotes"]),
    ('title = " "', "title", ["is empty"]),
    ("mains_hz = 55", "mains_hz", ["found 55", "50 or 60 Hz"]),
    ('mains_hz = "50"', "mains_hz", ['found "50" (text)', "50 or 60 Hz"]),
    ("mains_hz = true", "mains_hz", ["found true"]),
    ("a4_hz = 4.4", "a4_hz", ["found 4.4", "from 380 to 500 Hz"]),
    ("a4_hz = 0.44", "a4_hz", ["Did you give kHz?"]),
    ("a4_hz = nan", "a4_hz", ["found nan"]),
    ('a4_hz = "440"', "a4_hz", ["Write it without quotes"]),
    ("[instruments.a]\nscale_length_mm = 25.5", "instruments.a.scale_length_mm", ["inches?"]),
    ("[instruments.a]\nscale_length_mm = 64.8", "instruments.a.scale_length_mm", ["cm?"]),
    ("[instruments.a]\nscale_mm = 648", "instruments.a.scale_mm", ['mean "scale_length_mm"?']),
    ('[instruments.a]\ntuning = "E2 H2"', "instruments.a.tuning", ['did you mean "B2"']),
    ('[instruments.a]\ntuning = "E A D"', "instruments.a.tuning", ["octave is missing"]),
    ("[instruments.a]\ntuning = [82.4]", "instruments.a.tuning", ['"82.4" is no note name']),
    ("[instruments.a]\ntuning = 3", "instruments.a.tuning", ["lowest first"]),
    ('[instruments.a]\ntuning = "E4 B3 G3"', "instruments.a.tuning", ["lowest string first"]),
    ('[instruments.a]\ntuning="E2 A2"\nstrings=6', "instruments.a.strings", ["names 2 notes"]),
    ("[instruments.a]\nstrings = 7", "instruments.a.strings", ["give the 7 notes"]),
    ("[instruments.a]\nstrings = 5.5", "instruments.a.strings", ["whole number"]),
    ("instruments = 3", "instruments", ["[instruments.<name>]"]),
    ("[instruments]\na = 3", "instruments.a", ["found 3", "a table"]),
    ("[instruments.a]\n[instruments.A]", "instruments.A", ['"a" stands there already']),
    ("[conditions.b]\nstrings_hours = -2", "conditions.b.strings_hours", ["found -2", "hours"]),
    ("[conditions.b]\ninput_impedance_ohm = 1", "conditions.b.input_impedance_ohm", ["MΩ?"]),
    ("[conditions.b]\ninput_impedance_ohm = 500", "conditions.b.input_impedance_ohm", ["kΩ?"]),
    ("[conditions.b]\ncable_length_m = 300", "conditions.b.cable_length_m", ["cm?"]),
    ("[conditions.b]\nstrings_gauge = 10", "conditions.b.strings_gauge", ["text in quotes"]),
    ("[stages.stock]", "stages.stock", ['"instrument" is missing']),
    (H + 'from = "stokc"', "stages.stock.from", ['no stage is named "stokc"', 'mean "stock"?']),
    (H + 'from = "stock"', "stages.stock.from", ["runs in a circle"]),
    (H + 'conditions = "x"', "stages.stock.conditions", ['named "x"', "[conditions] names none"]),
    (H + 'date = "2026-03-01"', "stages.stock.date", ["without quotes, like 2026-03-01"]),
    (H + "work = [{hours = 1}]", "stages.stock.work[1]", ['"what" is missing']),
    (H + 'work = ["x"]', "stages.stock.work[1]", ['found "x" (text)', "a table"]),
    (H + 'work = [{what="a"}, {what="b", hours=-1}]', "stages.stock.work[2].hours", ["found -1"]),
    (H + "ratings = {neck = 11}", "stages.stock.ratings.neck", ["from 0 to 10"]),
    ('[instruments.a]\n[stages.s]\ninstrument = "b"', "stages.s.instrument", ['"a" is allowed']),
    ('[instruments.a]\n[stages."x/y"]', 'stages."x/y"', ["no path"]),
    ('[voices.n]\noutput = "magnetc"', "voices.n.output", ['Did you mean "magnetic"?']),
    ('[voices.n]\noutput = "piezo"\noutputs = ["piezo"]', "voices.n", ["not both"]),
    ('[voices.n]\noutputs = ["piezo", "piezo"]', "voices.n.outputs", ["both channels"]),
    ('[voices.n]\noutputs = ["piezo","magnetic","blend"]', "voices.n.outputs", ["1 to 2"]),
    ('[voices.n]\nsplit = "yes"', "voices.n.split", ["true or false"]),
    ("[voices.n]\npickup_distance_mm = 0.16", "voices.n.pickup_distance_mm", ["metres?"]),
    ("[instruments.a]\nscale_length_mm=648\n[voices.n]\npickup_distance_mm=700",
     "voices.n.pickup_distance_mm", ["more than the scale length"]),
    (H + '[[comparisons]]\nbefore = "stock"', "comparisons[1]", ['"after" is missing']),
    (H + '[[comparisons]]\nbefore="stock"\nafter="stock"', "comparisons[1]", ["are both"]),
    (H + '[[comparisons]]\nbefore="stock"\nafter="b"', "comparisons[1].after", ['named "b"']),
    ("worth = {hourly_rate = -1}", "worth.hourly_rate", ["found -1", "0 or more"]),
    ("hearing_thresholds = {level_db = 0}", "hearing_thresholds.level_db", ["above 0"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "key", "pieces"), REFUSED)
def test_what_cannot_be_is_refused_by_name(tmp_path, text, key, pieces):
    said = complaints(tmp_path, text)
    assert said.startswith(f"{tmp_path / 'session.toml'}: {key}: ")
    for piece in pieces:
        assert piece in said


def test_a_session_error_carries_file_and_key_and_is_a_value_error(tmp_path):
    with pytest.raises(InputError, match="found 55") as caught:
        read_session_toml(write(tmp_path, "mains_hz = 55"))
    assert isinstance(caught.value, SessionError)
    assert isinstance(caught.value, ValueError)
    assert caught.value.key == "mains_hz"
    assert caught.value.file == tmp_path / "session.toml"


def test_all_problems_come_at_once(tmp_path):
    said = complaints(tmp_path, "mains_hz = 55\na4_hz = 4\ncolour = 'red'\n[stages.a]\n")
    assert "4 problems" in said
    for key in ("mains_hz: ", "a4_hz: ", "colour: ", "stages.a: "):
        assert f"\n  {key}" in said


def test_a_bad_tuning_is_not_blamed_on_the_number_of_strings_too(tmp_path):
    said = complaints(tmp_path, '[instruments.a]\ntuning = "B1 H2"\nstrings = 7')
    assert "instruments.a.strings" not in said


TWO = '[instruments.a]\n[instruments.b]\n[stages.a1]\ninstrument="a"\n[stages.a2]\ninstrument="a"\n'
TWO += '[stages.b1]\ninstrument="b"\n[stages.b2]\ninstrument="b"\n'
PAIR = '[[comparisons]]\nbefore="a1"\nafter="a2"\n'


def test_a_circle_of_origins_is_named_once_in_full(tmp_path):
    text = '[instruments.a]\n[stages.x]\nfrom="y"\n[stages.y]\nfrom="z"\n[stages.z]\nfrom="x"\n'
    said = complaints(tmp_path, text + '[stages.w]\nfrom="x"')
    assert '"x" from "y" from "z" from "x"' in said
    assert "problems" not in said


def test_a_stage_comes_from_the_same_instrument(tmp_path):
    said = complaints(tmp_path, TWO.replace("[stages.b1]\n", '[stages.b1]\nfrom="a1"\n'))
    assert 'stages.b1.from: "a1" is a stage of "a", this is one of "b"' in said


def test_a_stage_is_not_earlier_than_where_it_came_from(tmp_path):
    text = '[instruments.a]\n[stages.x]\ndate=2026-03-02\n[stages.y]\nfrom="x"\ndate=2026-03-01\n'
    assert "(2026-03-01) is earlier" in complaints(tmp_path, text)


@pytest.mark.parametrize(
    ("more", "piece"),
    [
        ('control_before="b1"', "control_before alone is no control"),
        ('control_before="b1"\ncontrol_after="b1"', 'are both "b1"'),
        ('control_before="b1"\ncontrol_after="a1"', 'one instrument, found "b" and "a"'),
        ('control_before="a1"\ncontrol_after="a2"', "cannot be its own control"),
        (PAIR, 'comparisons[1] compares "a1" with "a2" too'),
    ],
)
def test_contradictory_comparisons(tmp_path, more, piece):
    assert piece in complaints(tmp_path, TWO + PAIR + more)


def test_a_control_is_left_unchanged(tmp_path):
    worked = TWO.replace("[stages.b2]\n", "[stages.b2]\nwork=[{what='rewind'}]\n")
    said = complaints(tmp_path, worked + PAIR + 'control_before="b1"\ncontrol_after="b2"')
    assert 'a control is left unchanged, and work led to "b2"' in said


@pytest.mark.parametrize(
    ("text", "place", "piece"),
    [
        ("title = ", "line 1, column 7", "the value is missing"),
        ("title = heron", "line 1, column 9", "text without quotes"),
        ('title = "heron\nmains_hz = 50', "line 1, column 14", "not closed"),
        ("[instruments.a]\nscale_length_mm = 647,7", "line 2, column 22", "decimal point"),
        ("[instruments.a]\n[instruments.a]", "line 2", "[instruments.a] stands there twice"),
        ("mains_hz = 50\nmains_hz = 60\ntitle='x'", "line 2", "stands there twice"),
        ("[stages.as delivered]", "line 1", 'stages."as delivered"'),
        ("käfer = 1", "line 1, column 2", "need quotes"),
        ('title = "C:\\heron"', "line 1", "single quotes"),
        ("x = [1, 2", "line 1, column 9", "never closed"),
        ("= 3", "line 1, column 1", "key = value"),
        ("[stages.x", "line 1", 'must end in "]"'),
        ("a = {b = 1,\n c = 2}", "line 1", "on one line"),
    ],
)
def test_syntax_errors_in_plain_words_with_line_and_column(tmp_path, text, place, piece):
    said = complaints(tmp_path, text)
    assert f"session.toml: {place}" in said
    assert piece in said
    assert "The line reads: " in said


def test_other_encodings_are_named(tmp_path):
    for raw, piece in [
        ('title = "x"\ntitle2 = "käfer"'.encode("latin-1"), "line 2: a letter is not UTF-8"),
        ('title = "x"'.encode("utf-16"), "UTF-16"),
    ]:
        with pytest.raises(SessionError, match=piece):
            read_session_toml(write(tmp_path, raw))


def test_a_folder_in_place_of_the_file(tmp_path):
    (tmp_path / "session.toml").mkdir()
    with pytest.raises(SessionError, match="cannot be read"):
        read_session_toml(tmp_path / "session.toml")


def test_again_names_a_voice_with_or_without_its_ending(tmp_path):
    text = H + 'again = "bridge-again"\n[voices.Bridge]\n'
    assert read_session_toml(write(tmp_path, text)).stages["stock"].again == "Bridge"
    with pytest.raises(SessionError, match='no voice is named "nek"'):
        read_session_toml(write(tmp_path, H + 'again = "nek"\n[voices.neck]\n'))


@pytest.mark.parametrize(
    ("toml", "said"),
    [
        ("a4_hz = " + "4" * 5000, "more than 30 digits"),
        ("a4_hz = 0x" + "4" * 5000, "a4_hz: a number has more than 30 digits"),
        ("[instruments.a]\ntuning = [0x" + "4" * 5000 + "]", "more than 30 digits"),
        ("title = " + "[" * 500 + "]" * 500, "hundreds deep"),
        ("x = " + "{a=" * 500 + "1" + "}" * 500, "hundreds deep"),
        ('mains_hz = "' + "5" * 9000 + '"', "50 or 60 Hz is allowed"),
        ("k" * 9000 + " = 1", "unknown key"),
    ],
)
def test_the_absurd_is_one_short_sentence(tmp_path, toml, said):
    (tmp_path / "session.toml").write_text(toml + "\n")
    with pytest.raises(SessionError, match=said) as caught:
        read_session_toml(tmp_path / "session.toml")
    assert len(str(caught.value)) - len(str(tmp_path)) < 500


SISTERS = """
[instruments.{two}]
model = "tern"
[instruments.one]
model = "Tern"
[instruments.other]
[stages.stock]
instrument = "one"
date = 2026-03-02
[stages.done]
instrument = "{at}"
from = "stock"
date = 2026-03-01
"""


def test_a_stage_may_come_from_a_stage_of_a_sister_recorded_on_any_day(tmp_path):
    told = read_session_toml(write(tmp_path, SISTERS.format(two="two", at="two")))
    assert told.stages["done"].from_stage == "stock"
    assert told.instruments["two"].model == told.instruments["one"].model == "tern"
    assert told.instruments["other"].model == ""


def test_a_stage_comes_from_no_stage_of_a_stranger(tmp_path):
    said = complaints(tmp_path, SISTERS.format(two="two", at="other"))
    assert "stages.done.from" in said
    assert "or of a sister: then give both [instruments] one model" in said


def test_a_folder_whose_name_ends_in_a_blank_can_be_named(tmp_path):
    path = tmp_path / "session.toml"
    path.write_text(
        '[instruments."heron "]\n[stages."one "]\n[stages.two]\ninstrument = "heron "\n'
        'from = "one "\n[[comparisons]]\nbefore = "one "\nafter = "two"\n',
        encoding="utf-8",
    )
    told = read_session_toml(path)
    assert told.stages["two"].from_stage == "one "
    assert told.stages["two"].instrument == "heron "
    assert told.comparisons[0].before == "one "


def test_a_sign_that_is_no_text_is_named_with_its_place(tmp_path: Path) -> None:
    (tmp_path / "session.toml").write_bytes(b'title = "heron"\r\n[worth]\ncurrency = "E\0R"\n')
    with pytest.raises(SessionError, match=r"line 3, column 14: a sign that is no text \(number 0"):
        read_session_toml(tmp_path / "session.toml")
