"""What each cause is, whatever a session shows of it: the texts of ``explain``."""

from __future__ import annotations

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
