"""The words of a report besides its columns, to be said with ``tr``: verdicts and trade terms."""

from __future__ import annotations

from tonecompare.language import tr_later

#: What each verdict says.
VERDICTS = {
    "likely-audible": tr_later(
        "The difference is more than the repeats scatter and far more than the "
        "hearing threshold (twice it, as a rule). Only a blind test, passed, can say that a "
        "difference is heard."
    ),
    "measurable": tr_later("There is a difference, but it may be too small to hear."),
    "no-change": tr_later("Whatever difference there is lies inside the hearing threshold."),
    "undecided": tr_later(
        "The takes cannot tell; the report says how many more repeats would. This is not "
        "a proof of no change."
    ),
    "confounded": tr_later(
        "There is a difference, but something other than the work can explain it."
    ),
}

_OPEN_STRINGS_GONE = tr_later(
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
    tr_later("instrument"): tr_later("One physical guitar."),
    tr_later("stage"): tr_later(
        "An instrument in one state of work, such as “as delivered” or “after the rewind”."
    ),
    tr_later("sister"): tr_later(
        "A guitar of the same model (model in session.toml). Two of one model differ before "
        "anyone touches them: what one shows that its sister does not is the work and the guitar."
    ),
    tr_later("side by side"): tr_later(
        "The voices of one stage against its loudest, each split against its whole, "
        "neighbouring positions, and magnetic against piezo and blend: note by note, as recorded."
    ),
    tr_later("alike"): tr_later(
        "Of two voices: level, every octave band and decay surely differ by less than a "
        "hearing threshold."
    ),
    tr_later("distance"): tr_later(
        "Of two voices: the largest multiple of a hearing threshold over level and octave bands."
    ),
    tr_later("recording"): tr_later(
        "One audio file of one voice at one stage: some quiet with the strings damped, "
        "then plucks, each left to ring."
    ),
    tr_later("onset"): tr_later(
        "The first sample of the string's motion above the quiet. Windows count from it."
    ),
    tr_later("partial"): tr_later("One component of a note; h1 is the fundamental."),
    tr_later("harmonic balance"): tr_later("The set of partial levels of a note."),
    tr_later("control"): tr_later(
        "An instrument left unchanged and recorded in both sessions: what changes on it is "
        "the sessions, not the work."
    ),
    tr_later("confound"): tr_later("Something other than the work that explains a difference."),
    tr_later("hearing threshold"): tr_later(
        "The published just-noticeable difference of a quantity."
    ),
    tr_later("standard error"): tr_later(
        "How well a number was measured: the truth lies within twice of it in some 95 % of cases."
    ),
    tr_later("dbfs"): tr_later(
        "Decibels against full scale: a sine as large as the converter takes is 0 dBFS. Peaks "
        "are sample peaks against 1.0."
    ),
    tr_later("many recordings"): tr_later(
        "A session may hold thousands. Each is kept when it is measured: stopped with Ctrl-C, the "
        "same command goes on from there. Of many the page shows some sixty voices in full, those "
        "that the findings are about first, and --show NAME chooses others; the tables hold all."
    ),
    tr_later("cluster"): tr_later(
        "Other computers that measure: --engine dask --scheduler ADDRESS, after pip install "
        "tonecompare[cluster]. Each of its workers needs the same versions and has to see the "
        "recordings under the same path as this computer; start it with --nthreads 1."
    ),
}
