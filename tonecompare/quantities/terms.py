"""The words of a report besides its columns: verdicts and trade terms."""

from __future__ import annotations

#: What each verdict says.
VERDICTS = {
    "likely-audible": "The difference is more than the repeats scatter and far more than the "
    "hearing threshold (twice it, as a rule). Only a blind test, passed, can say that a "
    "difference is heard.",
    "measurable": "There is a difference, but it may be too small to hear.",
    "no-change": "Whatever difference there is lies inside the hearing threshold.",
    "undecided": "The takes cannot tell; the report says how many more repeats would. This is not "
    "a proof of no change.",
    "confounded": "There is a difference, but something other than the work can explain it.",
}

_OPEN_STRINGS_GONE = (
    "No longer measured. It gave the loudest open string that sounds beside the note. On 278 "
    "plucks of real guitars and basses it named a string on 28, none loud enough to matter "
    "(-25 dB), and corrected no decay time. Damp the other strings while one is plucked."
)
#: Columns that tables had once, and why they went.
GONE = {
    "ring_along_db": _OPEN_STRINGS_GONE,
    "ring_along_db_se": _OPEN_STRINGS_GONE,
    "ring_along_string": _OPEN_STRINGS_GONE,
}

#: The words of the trade, as this program uses them.
WORDS = {
    "instrument": "One physical guitar.",
    "stage": "An instrument in one state of work, such as as delivered or after the rewind.",
    "sister": "A guitar of the same model (model in session.toml). Two of one model differ before "
    "anyone touches them: what one shows other than its sister is the work and the guitar.",
    "side by side": "The voices of one stage against its loudest, each split against its whole, "
    "neighbouring positions, and magnetic against piezo and blend: note by note, as recorded.",
    "alike": "Of two voices: level, every octave band and decay surely differ by less than a "
    "hearing threshold.",
    "distance": "Of two voices: the largest multiple of a hearing threshold over level and octave "
    "bands.",
    "recording": "One audio file of one voice at one stage: some quiet with the strings damped, "
    "then plucks, each left to ring.",
    "onset": "The first sample of the string's motion above the quiet. Windows count from it.",
    "partial": "One component of a note; h1 is the fundamental.",
    "harmonic balance": "The set of partial levels of a note.",
    "control": "An instrument left unchanged and recorded in both sessions: what changes on it is "
    "the sessions, not the work.",
    "confound": "Something other than the work that explains a difference.",
    "hearing threshold": "The published just-noticeable difference of a quantity.",
    "standard error": "How well a number was measured: the truth lies within twice of it in some "
    "95 % of cases.",
    "dbfs": "Decibels against full scale: a sine as large as the converter takes is 0 dBFS. Peaks "
    "are sample peaks against 1.0.",
}
