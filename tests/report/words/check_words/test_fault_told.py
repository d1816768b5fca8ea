"""Faults of takes in words: every kind, and every way in which a kind shows."""

from __future__ import annotations

from pathlib import Path

import pytest
from bracketed import Bracketed, all_said
from catalogue import said_in_python

from tonecompare.compare.causes.repeat_drift import Drift
from tonecompare.compare.check.check_results import Fault, Held
from tonecompare.language import catalogue
from tonecompare.quantities.compared import quantity_of
from tonecompare.report.words.check_words import fault_told
from tonecompare.report.words.check_words.fault_told import WORDS, kind_told, told
from tonecompare.report.words.check_words.held_words import held_sentence


def _drift(column: str, difference: float, *, shown: bool = False, beyond: bool = False) -> Drift:
    nan = float("nan")
    return Drift(
        "stock", "bridge", "magnetic", quantity_of(column), difference, 0.1, 0.25,
        p_value=nan, p_adjusted=0.001 if shown else 1.0, low=0.1 if beyond else -99.0,
        high=0.1 if beyond else 99.0, wander_variance=0.01, n_first=15, n_again=15, n_notes=3,
    )  # fmt: skip


TWO = ("stock/bridge.wav", "stock/neck.wav")
LEVEL = _drift("level_dbfs", -1.5, shown=True, beyond=True)
PITCH = _drift("cents", -8.0, beyond=True)
#: Kind, data, what is said of it in part (a text in ``what`` and one in ``why`` or ``remedy``).
SAID = [
    ("lossy codec", ("coded", "VORBIS"), "The file is coded with loss (VORBIS).", "made into WAV"),
    ("lossy codec", ("edge", 16_040.0), "ends in a sharp edge at 16.0 kHz.", "left the converter"),
    ("noise removal", (7_930.0,), "A hole was cut into the spectrum from 7.9 kHz on.", "steep"),
    ("low sample rate", (22_050.0,), "Recorded at 22050 Hz.", "Nothing above 11.025 kHz"),
    ("broken copy", (), "The file ends at 1.25 s, earlier than its header says.", "Copy it again"),
    ("silent channel", (), "One of the two channels is silent.", "record mono"),
    ("doubled channel", (), "Both channels are identical; one was used.", "would differ"),
    ("sample rate differs", (48_000.0, 44_100.0), "at 48000 Hz; most files have 44100", "one rate"),
    ("duplicate", ("bytes", TWO), "two names, byte for byte: stock/bridge.wav and s", "right"),
    ("duplicate", ("samples", TWO), "two names, sample for sample: ", "finds no change"),
    ("duplicate", ("performance", TWO, -2.04), "hold the same performance (−2.0 dB).", "right"),
    ("duplicate", ("performance", TWO, 0.05), "hold the same performance.", "right"),
    ("processing", (3.04, None), "The hiss is 3.0 dB lower while strings ring than", "plug-ins"),
    ("processing", (None, 1.52), "Plucks die more slowly at first than later (early decay time 1.5",
     "Compression"),
    ("processing", (3.0, 1.5), "(compressor, limiter). Plucks die more slowly", "Compression"),
    ("unusable", ("Is empty (0 bytes). Export it again.", True), "It is empty (0 bytes). Export",
     "Record it again"),
    ("unusable", ("Is nobody here? Then record it.", False), "Is nobody here?", "Nothing of it"),
    ("takes.csv", ("bridge.wav", 40), "takes.csv names pluck 40 of bridge.wav, which", "row out"),
    ("clipping", (-0.01, (1.0, 2.5)), "cut flat at 0.0 dBFS (at 1.0 and 2.5 s; 2 plucks).", "6 dB"),
    ("inter-sample over", (1.234,), "goes 1.23 dB over full scale at 1.25 s.", "headroom"),
    ("too quiet", (-41.26, None), "The loudest sample is at −41.3 dBFS.", "volume knob"),
    ("too quiet", (None, 21.6), "Half of the plucks stand 22 dB above the quiet or less.",
     "drown in noise"),
    ("DC offset", (0.996,), "The wave sits +1.00 % of full scale off zero.", "clicks at cuts"),
    ("digital silence", (0.33,), "0.3 s in one go hold one and the same", "Switch the gate off"),
    ("no quiet", (1,), "It has no stretch of 0.2 s or more with", "damped strings first."),
    ("no quiet", (3,), "None of its 3 files has a stretch", "first, in one file at least."),
    ("attack", ("starts-inside", (0.0,)), "The file starts while the note already", "missing"),
    ("attack", ("trimmed", (0.0,)), "The file starts with the attack itself.", "untrimmed file"),
    ("attack", ("double-attack", (1.0,)), "1 pluck (at 1.0 s) has two attacks within", "slipped"),
    ("attack", ("double-attack", (1.0, 4.0)), "2 plucks (at 1.0 and 4.0 s) have two", "slipped"),
    ("fade", (), "dies away with the note (from about 1.2 s on): the end was", "without a fade"),
    ("cut short", (("E2", "A2"), 3, "damped", 0.42), "E2 and A2: 3 plucks damped by hand before "
     "the note fell by 25 dB (the first after 0.4 s).", "Let every note ring"),
    ("cut short", (("E2",), 1, "next-pluck", 0.42), "E2: 1 pluck ended by the next pluck before the"
     " note fell by 25 dB (after 0.4 s).", "ten seconds"),
    ("cut short", (("E2",), 1, "file-end", 0.42), "ended with the file before", "No decay time"),
    ("out of tune", ((("A2", -39.6), ("G3", 41.2)), 6, 30.0), "Out of tune: A2 40 cents flat and "
     "G3 41 cents sharp (6 plucks, from 1.2 s on; 30 cents are allowed).", "a4_hz"),
    ("out of tune", ((("A2", float("nan")),), 1, 30.0), "Out of tune: A2 (1 pluck, at 1.2 s; 30",
     "Another tension"),
    ("wrong note", ("named", "G3"), "for a note other than the one that sounds (G3).",
     "Rename the file"),
    ("wrong note", ("stray", (("A#2", 11.0),), True), "A#2 at 11.0 s: not planned.", "wrong fret"),
    ("wrong note", ("stray", (("A#2", 11.0), ("C3", 12.0)), False),
     "A#2 at 11.0 s and C3 at 12.0 s: not in the other voices.", "leave it out"),
    ("note unsure", ((1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0),), "7 plucks without a certain pitch (at "
     "1.0, 2.0, 3.0, 4.0, 5.0 s and 2 more times).", "name the note"),
    ("no plucks", (), "No pluck with a certain note was found in it.", "ends in -hands-on or"),
    ("missing notes", (("G3",), False), "G3 is in the other voices but not here.",
     "(neck.2.wav beside neck.wav)"),
    ("missing notes", (("G3", "B3"), True), "G3 and B3 are planned but not here.", "for good"),
    ("missing repeats", ("planned", (("A2", 2, 3), ("G3", 2, 3))),
     "Fewer repeats than planned: A2 2 of 3 and G3 2 of 3.", "Add plucks"),
    ("missing repeats", ("all", 12), "Every one of its 12 notes was plucked only once.", "repeats"),
    ("missing repeats", ("once", ("A2", "G3")), "Plucked only once: A2 and G3.", "repeats"),
    ("outlier", ("A2", (("level_dbfs", -6.96), ("decay_s", 41.6)), False),
     "Pluck 2 (A2, 1.2 s) is unlike the others of its note: level −7.0 dB and decay time +52 %.",
     "slip of the pick"),
    ("outlier", ("A2", (("decay_s", 41.6), ("decay_s", 41.8)), True), "of its note: decay time "
     "+52 %. Each partial rings as long as in the others;", "honest pluck"),
    ("outlier", ("A2", (("centroid_hz", 212.0), ("cents", -9.0)), False),
     "brightness +13 % and pitch −9 cents.", "widens every interval"),
    ("gain moved", ("recordings", "stock", "bridge", -4.0, -3.9), "Against bridge the hiss moved "
     "by −4.0 dB and the level with it (−3.9 dB).", "interface_gain_db"),
    ("gain moved", ("recordings", "wood", "bridge", 3.0, 3.1), "Against bridge at wood the", "pad"),
    ("gain moved", ("within", 5.0, 5.1), "From about 1.2 s on hiss (+5.0 dB) and level (+5.1 dB) "
     "moved together.", "without touching the gain"),
    ("hum", (-50.0, 25.4, True), "Hum at −50.0 dBFS, 25 dB above the other takes of this voice",
     "If work on the wiring explains it, it is a finding."),
    ("hum", (-50.0, 25.4, False), "above the other voices of this stage (the middle of them).",
     "dimmer"),
    ("wrong voice", ("crosswise", "bridge", "wood", 0.5, 4.5), "It has the sound of bridge at wood "
     "(partials 0.5 dB apart), not that of neck there (4.5 dB); with bridge it is the other",
     "swap their names"),
    ("wrong voice", ("place", "bridge", 150.2, "neck", 45.1), "pickup of bridge 150 mm from the "
     "bridge and that of neck 45 mm: neck (45 mm) is not where its name says.", "Listen to both"),
    ("voices alike", ("bridge", 0.31, 0.12), "neck and bridge sound the same: partials 0.3 dB "
     "apart, level 0.1 dB.", "Check the selector and record neck again."),
    ("outputs exchanged", (), "the two are exchanged.", 'outputs = ["piezo", "magnetic"]'),
    ("missing voice", ("",), "neck is planned in session.toml, but no", "compared later"),
    ("missing voice", ("wood",), "neck was recorded at wood, but no recording of it", "Record it"),
    ("nothing recorded", (), "No recording is in the folder of this stage.", "every voice first"),
    ("drift unknown", ("bridge",), "as bridge-again, and is not here.", "as bridge-again.wav."),
    ("drift", (LEVEL, PITCH), "bridge, recorded again at the end, differs in level by −1.5 dB "
     "(−1.8 to −1.2) and in pitch by ", "Tune before every voice; mark the picking place"),
    ("drift", (PITCH,), "in pitch by −8.0 cents", "scatter so much that it may be chance."),
    ("drift", (_drift("level_dbfs", -0.4, shown=True),), "differs in level by −0.4 dB", "allows "
     "for it; nothing needs to be recorded again."),
    ("drift", (_drift("decay_s", 0.3, beyond=True), _drift("hum_dbfs", 4.0, beyond=True)),
     "in decay time by", "See that nothing touches the strings, and how old they are; sit in the"),
    ("other music", (("riff B",), "neck", 0.31), "other music than in neck (31 % alike)",
     "riff of"),
    ("missing repeats", ("played", (("riff", 2),), 4), "too seldom: riff 2 of 4 times.", "1.5 s"),
]  # fmt: skip


def _fault(kind: str, data: tuple[object, ...]) -> Fault:
    plucks = {"clipping": (1, 3), "outlier": (2,)}.get(kind, ())
    return Fault(kind, "doubt", "stock", "neck", "stock/neck.wav", 1.249, data, plucks)


@pytest.mark.parametrize(("kind", "data", "what", "more"), SAID)
def test_each_fault_is_told(kind: str, data: tuple[object, ...], what: str, more: str) -> None:
    said = told(_fault(kind, data))
    assert what in said.what
    assert more in f"{said.why} {said.remedy}"
    assert all(text.endswith((".", "?")) for text in (said.what, said.why, said.remedy))


@pytest.mark.parametrize(("kind", "data"), [one[:2] for one in SAID])
def test_every_word_of_a_fault_passes_the_catalogue(
    kind: str, data: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())
    said = told(_fault(kind, data))
    for text in (kind_told(kind), said.what, said.why, said.remedy):
        assert all_said(text), text


def test_every_kind_can_be_translated() -> None:
    modules = Path(fault_told.__file__).parent.glob("*_words.py")
    marked = {one.text for path in modules for one in said_in_python(path.read_text("utf-8"), "")}
    assert set(WORDS) - marked == {"takes.csv"}


def test_every_kind_is_tried_here() -> None:
    assert {kind for kind, *_ in SAID} == set(WORDS)


def test_how_far_a_stage_held_still() -> None:
    still = Held("bridge", (_drift("level_dbfs", 0.2), _drift("hum_dbfs", -0.5)))
    assert held_sentence(still) == (
        "bridge, recorded first and again at the end, moved by at most 0.5 dB in level and 0.8 dB "
        "in hum."
    )
    moved = held_sentence(Held("bridge", (LEVEL, _drift("hum_dbfs", -0.5))))
    assert moved.startswith("bridge, recorded first and again at the end, differs in level by −1.5")
    assert moved.endswith("; the rest moved by at most 0.8 dB in hum.")
