"""What is said of an input file."""

from __future__ import annotations

from tonecompare.measure.model import FileRecord
from tonecompare.report.words.file_remarks import file_remarks


def test_mains_asked_for_in_vain_is_said_once_after_what_reading_found() -> None:
    asked = ((50, 60), (50, 60))
    record = FileRecord("a.wav", "", 48e3, 1, "PCM_24", 9.0, "s", "v", 0, ("It is short.",), asked)
    first, second = file_remarks(record)
    assert first == "It is short."
    assert second.startswith("A mains frequency of 60 Hz was asked for")
    assert "the hum's lines stand at 50 Hz" in second
