"""Standing texts of the page, said with ``tr``: conventions, limits, cautions, player's labels."""

from __future__ import annotations

from tonecompare.language import tr, tr_later
from tonecompare.report.words.numbers import with_unit

CONVENTIONS = (
    tr_later(
        "Levels are in dBFS: RMS against a full-scale sine (AES17: a full-scale sine is 0 dBFS); "
        "peaks are sample peaks against 1.0."
    ),
    tr_later(
        "Windows count from the onset, the first sample of the string's motion above the quiet."
    ),
    tr_later(
        "Differences are after minus before, with a 95 % interval in brackets (t-based, from the "
        "repeats). Plucks of a note are repeats, as are a chord or riff played again; notes weigh "
        "equally. n is the number of repeats, or of quiet stretches, before/after."
    ),
    tr_later(
        "Verdicts allow for the many differences in one report: with enough of them some intervals "
        "miss zero by chance alone, so one that only just does stays undecided."
    ),
    tr_later(
        "Where hum, buzz or hiss has one quiet stretch on a side, how far one recording differs "
        "from the next is not measured: that part of the interval is assumed, and the interval is "
        "marked."
    ),
    tr_later("Ratios are compared as ratios (decay, brightness and attack in %), levels in dB."),
    tr_later(
        "A hearing threshold is the published just-noticeable difference of one quantity, found "
        "with other sounds and listeners: a yardstick, not a fact about your ears. No number here "
        "was heard: only a passed blind test can say so, and is named where there is one."
    ),
)

LIMITS = (
    tr_later(
        "The numbers say what differs between the recordings, not why. Strings, hands, cables and "
        "rooms differ too; what was tested for is listed with each comparison."
    ),
    tr_later(
        "Moving the pick by 5 mm changes single partials by up to 10 dB, more than most changes of "
        "pickup do. Partial levels and the odd/even balance should be read with that in mind."
    ),
    tr_later(
        "Hum depends on place and direction: compare it only for the same chair, direction and "
        "gain."
    ),
    tr_later(
        "A direct recording has no sound pressure, so nothing is said about loudness in a room, "
        "and A-weighted dBFS are not dB(A)."
    ),
    tr_later("An amplifier, a loudspeaker and a band change what remains of a difference."),
)

#: Said once where riffs or chords were played.
NEVER_BY_RIFF = tr_later(
    "A riff never shows how long notes ring, single partials, where the strings were picked or the "
    "pickup's resonance: those take single notes left to ring."
)
NEVER_BY_CHORD = tr_later(
    "A chord never shows single partials, where the strings were picked or how well they are in "
    "tune: those take single notes left to ring."
)

#: Basis: HSE INDG247 (earthing, RCDs), HSE SIM 03/2002/26 (solder fume), WHO-ITU H.870 (hearing);
#: the rest is general workshop knowledge.
CAUTIONS = (
    tr_later(
        "Never lift, remove or tape over a protective-earth connection to stop hum. Have wiring "
        "checked by a qualified person; local rules apply."
    ),
    tr_later(
        "String grounding ties the player to the amplifier's earth, which must be sound. Use a "
        "residual current device (30 mA) on the supply; if it trips, find the fault, never bypass "
        "it."
    ),
    tr_later(
        "Solder with extraction: rosin fume is a leading cause of occupational asthma. Wash your "
        "hands after leaded solder. Disconnect batteries first."
    ),
    tr_later("Cut copper foil is sharp; dust from routing wants extraction and a mask."),
    tr_later(
        "Listen at moderate level: the limit for adults is 80 dB(A) for 40 hours a week, and every "
        "3 dB more halves the time (WHO-ITU H.870)."
    ),
)

BESIDE = tr_later("The sounds lie in the folder clips beside this page.")
TOO_LARGE = tr_later(
    "These sounds are not in the page, which would grow past 10 MB with them. They lie in the "
    "folder clips beside it."
)
KEYS = tr_later("Keys: space plays and stops, 1 and 2 (and so on) choose the sound, L repeats.")
NO_SCRIPT = tr_later(
    "The player needs scripts, which this browser has switched off. The same sounds lie in the "
    "folder clips of the report."
)
MISSING = tr_later(
    "This sound is missing. The folder clips has to lie beside this page; a report made with "
    "--audio inside carries its sounds with it."
)
UNPLAYABLE = tr_later(
    "This browser cannot play the sound. Open the page in a current Firefox, Chrome, Edge or "
    "Safari."
)


def match_label(louder: str, gain_db: float) -> str:
    """Return the label of the choice of equal loudness, "" where both are equally loud."""
    if not louder:
        return ""
    size = with_unit(-gain_db, "dB")
    return tr("Equally loud ({louder}: turned down by {size})", louder=louder, size=size)
