"""Notes of a comparison as sentences."""

from __future__ import annotations

import pytest

from tonecompare.compare import notes
from tonecompare.compare.model import Note
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.findings import find

FILES = ("stock/bridge.wav", "rewound/bridge.wav")
SAID = [
    (notes.NOT_MEASURED, ("stock",), "Stage stock has no measured recording"),
    (notes.ONLY_AT_ONE, ("rewound", ("split", "neck")),
     "Recorded only at rewound, so not compared: split, neck. Voices match by file name."),
    (notes.SAME_FILE, (FILES, False),
     "stock/bridge.wav and rewound/bridge.wav are one and the same file: set against each other "
     "they can only show no change"),
    (notes.SAME_FILE, (FILES, True), "are one and the same file: its plucks count more than once"),
    (notes.TWO_INSTRUMENTS, ("wren", "heron"), "at least three unmodified guitars"),
    (notes.SISTERS, ("one", "two", "tern", 0), "two is set against its sister one"),
    (notes.SISTERS, ("one", "two", "tern", 0), "Only two itself recorded before the work"),
    (notes.SISTERS, ("one", "two", "tern", 4), "4 unmodified ones were recorded"),
    (notes.OTHER_MUSIC, ("neck", 0.249, 0.52), "(25 % alike, 52 % are needed), so they are not"),
    (notes.NO_CONTROL, (), "No unchanged instrument was recorded in both sessions."),
    (notes.CONTROL_UNUSABLE, ("wren",), "wren was to be the control but gives no usable drift"),
    (notes.CONTROL_TAKEN_OUT, ("wren", ()), "It shows no drift itself."),
    (notes.CONTROL_TAKEN_OUT, ("wren", ("hum_dbfs", "hiss_dbfs")), "it moved in: hum, hiss."),
    (notes.CONTROL_GAIN, (-2.849,), "moved together, by −2.8 dB"),
    (notes.ONE_SESSION, ("stock", "rewound", 0), "three times or more"),
    (notes.ONE_SESSION, ("stock", "rewound", 1), "1 stage was recorded again without any work"),
    (notes.ONE_SESSION, ("stock", "rewound", 2), "2 stages were recorded again"),
    (notes.FEW_NOTES, (2, 3), "Only 2 notes were recorded on both sides"),
    (notes.ONE_SITTING, (), "The voices were recorded in one sitting"),
    (notes.VOICE_AND_STAGE, ("stock", "rewound"), "One voice is of stock"),
    (notes.FEW_NOTES, (1, 3), "Only 1 note was"),
    (notes.FEW_PLUCKS, (3, 5), "Fewer than 3 plucks of each note: single notes can hardly be "
     "judged. Record 5."),
    (notes.PLAYED, (1, 0, 4, 4, 4), "Judged on one riff, played 4 times on each side; another riff "
     "could show other things."),
    (notes.PLAYED, (0, 3, 4, 2, 4), "3 chords, each played at least 4 times on one side and 2 "
     "times on the other; another chord could show other things. Play each 4 times or more"),
    (notes.PLAYED, (1, 1, 4, 4, 4), "one riff and one chord, each played"),
    (notes.ONE_STRETCH, (), "a guitar turned a little, or held elsewhere, hums differently"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "data", "said"), SAID)
def test_each_note_has_its_sentence(kind: str, data: tuple[object, ...], said: str) -> None:
    text = note_sentence(Note(kind, data))
    assert said in text
    assert text.endswith((".", "?"))


def test_every_kind_of_note_is_said() -> None:
    spelt = {
        value
        for name, value in vars(notes).items()
        if name.isupper() and not name.startswith("_") and isinstance(value, str)
    }
    assert spelt == {kind for kind, _, _ in SAID}


def test_what_is_not_compared_gives_way_whatever_its_stage_is_called(comparisons_of, row) -> None:
    """A note is passed over for its kind; a stage's name that reads like one does not hide it."""
    only = Note(notes.ONLY_AT_ONE, ("rewound", ("split",)))
    told = Note(notes.CONTROL_UNUSABLE, ("Recorded only",))
    found = find(comparisons_of(row(), notes={row()["comparison"]: (only, told)}))
    assert found[-1].text.startswith("Recorded only was to be the control")
