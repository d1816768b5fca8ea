"""What each cause is, whatever a session shows of it: the texts of ``explain``."""

from __future__ import annotations

from tonecompare.language import tr_later

#: What else can make a difference, by the names in the column adjusted_for.
CAUSES = {
    "gain": tr_later(
        "Another gain at the interface: level, hum and hiss move alike. If hiss moved by as much "
        "as the level did, the gain moved, not the pickup."
    ),
    "pick-position": tr_later(
        "The string was picked at another place. 5 mm change single partials by up to 10 dB, more "
        "than most changes of pickup."
    ),
    "pick-strength": tr_later(
        "The string was picked harder or softer, which moves the level and the balance of the "
        "partials."
    ),
    "glide": tr_later(
        "How hard and at which angle each note was plucked, as far as its glide in pitch tells: "
        "each pluck's level is brought to its note's common glide."
    ),
    "tuning": tr_later("The guitar was tuned differently, which moves what depends on pitch."),
    "strings": tr_later("Other or older strings: old ones lose treble and ring shorter."),
    "load": tr_later("Another cable or input: it moves the pickup's resonance, and so the treble."),
    "processing": tr_later(
        "The file was processed or compressed on the way, by a limiter, an equaliser or a lossy "
        "format."
    ),
    "mains": tr_later(
        "Another mains frequency or place: hum depends on both and on the direction the guitar "
        "faces."
    ),
    "quiet": tr_later(
        "The noise is known on one side only, so what lies near it is measured differently."
    ),
    "sessions": tr_later(
        "What changed from one day to the other, as an unchanged control shows it."
    ),
    "drift": tr_later("What changed within a stage, as the repeat of its first voice shows it."),
}
