"""The words of a report besides its columns: verdicts, causes other than the work, trade terms."""

from __future__ import annotations

#: What each verdict says.
VERDICTS = {
    "likely-audible": "The difference is more than the plucks scatter and far more than the "
    "hearing threshold (twice it, as a rule). Only a blind test, passed, can say that a "
    "difference is heard.",
    "measurable": "There is a difference, but it may be too small to hear.",
    "no-change": "Whatever difference there is lies inside the hearing threshold.",
    "undecided": "The takes cannot tell; the report says how many more plucks would. This is not "
    "a proof of no change.",
    "confounded": "There is a difference, but something other than the work can explain it.",
}

#: What else can make a difference, by the names in the column adjusted_for.
CAUSES = {
    "gain": "Another gain at the interface: level, hum and hiss move alike. If hiss moved by as "
    "much as the level did, the gain moved, not the pickup.",
    "pick-position": "The string was picked at another place. 5 mm change single partials by up "
    "to 10 dB, more than most changes of pickup.",
    "pick-strength": "The string was picked harder or softer, which moves the level and the "
    "balance of the partials.",
    "tuning": "The guitar was tuned otherwise, which moves what depends on pitch.",
    "strings": "Other or older strings: old ones lose treble and ring shorter.",
    "load": "Another cable or input: it moves the pickup's resonance, and so the treble.",
    "processing": "The file was processed or compressed on the way, by a limiter, an equaliser or "
    "a lossy format.",
    "mains": "Another mains frequency or place: hum depends on both and on the direction the "
    "guitar faces.",
    "quiet": "The noise is known on one side only, so what lies near it is measured otherwise.",
    "sessions": "What changed from one day to the other, as an unchanged control shows it.",
    "drift": "What changed within a stage, as the repeat of its first voice shows it.",
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
