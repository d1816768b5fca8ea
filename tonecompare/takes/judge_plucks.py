"""Judge plucks and files: flag words, each with the sentence that explains it to the user."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.takes.plucks.note_of_pluck import Pitch, cents_from_note, find_pitch, pitch_of_note
from tonecompare.units import ratio_to_cents

#: Off the nearest note by more than this is out of tune for a comparison.
OUT_OF_TUNE_CENTS = 25.0
#: A note's tuning is read this long after its onset, over this long, not before this long.
SETTLED_S, SETTLED_WINDOW_S, SETTLED_LEAST_S = 1.0, 0.5, 0.4
#: A pluck this far under the median of its recording is soft.
SOFT_DB = 15.0
#: Without pitch and this far under the median, or down by this after a tenth of a second, it is a
#: touch or a knock.
NOISE_DB = 12.0
KNOCK_FALL_DB = 25.0
#: After a note that was damped, a sound this far under the loud plucks is a touch: of the same
#: string (a finger that lifts off), of any string (a hand that brushes it). Soft and hard plucks of
#: one note lie within 13 dB on real guitars.
LIFT_DB, BRUSH_DB = 22.0, 30.0
#: On a string that still rings: this far under the loud plucks and silenced within this time: the
#: hand that is about to damp it.
DAMPING_DB, DAMPING_S = 15.0, 0.4
#: It comes within this time of the damping, at the pitch of the damped note within this interval.
SOON_S, SAME_PITCH_CENTS = 1.0, 60.0
#: A finger squeaks along a wound string above this, no longer than this, and this far under the
#: loud plucks at least.
SQUEAK_FROM_HZ, SQUEAK_LONGEST_S, SQUEAK_DB = 600.0, 0.6, 9.0
#: A pitch less clear than this is that of noise with a tone in it.
SQUEAK_CLARITY = 0.5
#: Loud plucks are those at and above this percentile, so that many touches do not move it.
_LOUD_PERCENTILE = 80.0
#: Rings shorter than this cannot fill the level window (0.05–0.55 s).
SHORT_RING_S = 0.55

#: Flag word -> what it means and what to do, for every flag of a pluck or a file.
FLAG_SENTENCES = {
    "clipped": "The input clipped: level, peak, attack and upper partials are wrong. Lower the "
    "input gain and record it again.",
    "inter-sample": "The wave between the samples goes over full scale; leave more headroom.",
    "soft": "Much softer than the other plucks of this recording.",
    "cut": "The file ends while the string still rings; the decay is known only as far as it goes.",
    "damped": "The string was damped while it still rang; the decay is known only up to there.",
    "faded": "The end of the file was faded out or switched off, the noise with it; nothing was "
    "measured in there.",
    "replucked": "The next pluck came while this one still rang.",
    "over-ringing": "Plucked while something else still rang; both are in the measurement.",
    "short": "Rings for less than 0.55 s; level and partials come from less than their window.",
    "no-quiet": "No quiet stretch: hum and hiss could not be taken off. Record a second or more "
    "with the strings damped.",
    "no-pitch": "No pitch found, so no note could be named.",
    "ambiguous-pitch": "The pitch may be off by an octave; check the note.",
    "out-of-tune": "More than 25 cents off the nearest note once the string has settled; tune "
    "before recording.",
    "chord": "Several strings struck together: what only a single string has (partials, pitch, "
    "picking place) is not measured.",
    "passage": "Notes played one after the other: measured as a whole, aligned with the same music "
    "played again.",
    "misnamed": "Sounds another note than its file name says.",
    "trimmed": "The file starts with the attack itself; the onset may lie a little before it.",
    "starts-inside": "The file starts while this note already sounds; its attack is missing.",
    "double-attack": "Two attacks within a tenth of a second: pick noise or a slipped pluck.",
    "overridden": "Changed by hand in takes.csv.",
    "touches": "Soft sounds far under the notes (a finger that lifts off or squeaks along a "
    "string, a hand that brushes one) were left out: they are no plucks.",
    "truncated": "The file ends earlier than its header says.",
    "lossy": "Lossy-coded: high partials, hiss and attack are the codec's too.",
    "hard-cut": "A sharp edge in the spectrum with nothing above it, or a hole cut into it: a "
    "lossy codec, noise removal or a lower sample rate in between.",
    "low-rate": "A low sample rate: partials and hiss above half of it are missing.",
    "dc-offset": "The recording sits off zero; the offset was taken out before measuring.",
    "dual-mono": "Both channels are identical; one was used.",
    "silent-channel": "One channel is silent; the other was used.",
    "digital-silence": "Digital silence between the notes (gate or edit): it says nothing about "
    "hum and hiss.",
}


@dataclass(frozen=True)
class Found:
    """What is known of a pluck before it is judged."""

    channel_onset_s: tuple[float, ...]
    end_s: float
    ended_by: str
    level_db: float
    fall_db: float
    over_ringing: bool
    pitch: Pitch | None
    note: str
    flags: tuple[str, ...]
    channel_onset_sd_s: tuple[float | None, ...] = ()
    #: MIDI numbers of a chord's notes; () for a single note.
    chord: tuple[int, ...] = ()
    #: When each note or chord of a played passage began; () for a single event.
    events_s: tuple[float, ...] = ()


def late_hz(found: Found, samples: FloatArray, *, rate_hz: float, a4_hz: float) -> float | None:
    """Pitch of a sharp pluck once its swing has died down; None where it is not sharp or too short.

    A string plucked hard is stretched by its own swing: f rises with the square of the amplitude
    and falls back as that decays (tension modulation; Legge & Fletcher, J. Acoust. Soc. Am. 76
    (1984) 5-12, from memory). A second after the onset a note that falls by 20 dB/s has a hundredth
    of the glide left; what is still sharp then is tuned so.

    Parameters
    ----------
    found
        The pluck.
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    a4_hz
        Tuning reference.
    """
    onset_s = min(found.channel_onset_s)
    start_s = min(onset_s + SETTLED_S, found.end_s - SETTLED_WINDOW_S)
    if found.pitch is None or found.chord or start_s < onset_s + SETTLED_LEAST_S:
        return None
    if cents_from_note(found.pitch.f0_hz, a4_hz=a4_hz) < OUT_OF_TUNE_CENTS:
        return None
    return pitch_of_note(
        samples, rate_hz=rate_hz, onset_s=start_s, end_s=found.end_s, near_hz=found.pitch.f0_hz
    )


def judge_pluck(
    found: Found,
    *,
    median_level_db: float,
    has_quiet: bool,
    clipped_s: FloatArray,
    a4_hz: float,
    late_hz: float | None = None,
) -> tuple[str, ...]:
    """Return the flags of one pluck, in the order of FLAG_SENTENCES.

    Parameters
    ----------
    found
        The pluck.
    median_level_db
        Median level of the plucks of the recording.
    has_quiet
        Whether any quiet is known for it.
    clipped_s
        Times at which the file clips.
    a4_hz
        Tuning reference.
    late_hz
        Pitch once the string swings little (:func:`late_hz`), which then decides the tuning.
    """
    onset_s = min(found.channel_onset_s)
    flags = set(found.flags)
    if ((clipped_s >= onset_s - 0.001) & (clipped_s < found.end_s)).any():
        flags.add("clipped")
    if found.level_db < median_level_db - SOFT_DB:
        flags.add("soft")
    if found.over_ringing:
        flags.add("over-ringing")
    if found.end_s - onset_s < SHORT_RING_S:
        flags.add("short")
    if not has_quiet:
        flags.add("no-quiet")
    if found.events_s:
        flags.add("passage")
    elif found.chord:
        flags.add("chord")
    elif found.pitch is None:
        flags.add("no-pitch")
    else:
        if found.pitch.ambiguous:
            flags.add("ambiguous-pitch")
        settled_hz = late_hz or found.pitch.f0_hz
        if abs(cents_from_note(settled_hz, a4_hz=a4_hz)) > OUT_OF_TUNE_CENTS:
            flags.add("out-of-tune")
    return in_order(flags)


def is_noise(found: Found, *, median_level_db: float) -> bool:
    """Whether it is no pluck: without pitch, and over at once or far under the others."""
    soft = found.level_db < median_level_db - NOISE_DB
    return found.pitch is None and not found.chord and (soft or found.fall_db > KNOCK_FALL_DB)


def is_touch(found: Found, before: Found | None, *, loud_db: float) -> bool:
    """Whether it is a finger or a hand on the strings, not a pluck of its own.

    Parameters
    ----------
    found
        What sounds.
    before
        The pluck before it in the same file.
    loud_db
        Level of the loud plucks of the recording (:func:`loud_level`).
    """
    if before is None:
        return False
    onset_s = min(found.channel_onset_s)
    lift_db = LIFT_DB
    if before.ended_by != "damped":
        silenced = found.ended_by != "next-pluck" and found.end_s - onset_s < DAMPING_S
        if not (found.over_ringing and silenced):
            return False
        lift_db = DAMPING_DB
    if onset_s - before.end_s > SOON_S:
        return False
    if found.level_db < loud_db - BRUSH_DB:
        return True
    if found.level_db >= loud_db - lift_db or found.pitch is None or before.pitch is None:
        return False
    apart_cents = float(ratio_to_cents(found.pitch.f0_hz / before.pitch.f0_hz))
    return abs(apart_cents) < SAME_PITCH_CENTS


def is_squeak(
    found: Found,
    before: Found | None,
    samples: FloatArray,
    *,
    rate_hz: float,
    loud_db: float,
) -> bool:
    """Whether it is a finger along a wound string, not a note.

    The windings tick past at a rate that follows the hand: a short sound far above the strings'
    fundamentals whose pitch is unclear or does not stay (one without pitch is noise already). Notes
    hammered on one after the other are like that too, so that the string must have been silenced
    before.

    Parameters
    ----------
    found
        What sounds.
    before
        The pluck before it in the same file.
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    loud_db
        Level of the loud plucks of the recording (:func:`loud_level`).
    """
    onset_s = min(found.channel_onset_s)
    length_s = found.end_s - onset_s
    if found.pitch is None or found.pitch.f0_hz < SQUEAK_FROM_HZ or length_s > SQUEAK_LONGEST_S:
        return False
    if found.level_db > loud_db - SQUEAK_DB:
        return False
    if before is None or before.ended_by != "damped":
        return False
    if found.pitch.clarity < SQUEAK_CLARITY:
        return True
    middle_s = onset_s + length_s / 2.0
    early, late = (
        find_pitch(samples, rate_hz=rate_hz, onset_s=start_s, end_s=end_s)
        for start_s, end_s in ((onset_s, middle_s), (middle_s, found.end_s))
    )
    if early is None or late is None:
        return False
    return abs(float(ratio_to_cents(late.f0_hz / early.f0_hz))) > SAME_PITCH_CENTS


def loud_level(levels_db: list[float]) -> float:
    """Level of the loud plucks of a recording, -inf for none."""
    return float(np.percentile(levels_db, _LOUD_PERCENTILE)) if levels_db else -np.inf


def in_order(flags: set[str]) -> tuple[str, ...]:
    """Sort flags as FLAG_SENTENCES has them; an unknown one is a mistake in the program."""
    unknown = flags - set(FLAG_SENTENCES)
    if unknown:
        raise KeyError(f"flags without a sentence: {sorted(unknown)}")
    return tuple(flag for flag in FLAG_SENTENCES if flag in flags)


def median_level(levels_db: list[float]) -> float:
    """Median, -inf for none."""
    return float(np.median(levels_db)) if levels_db else -np.inf
