"""How are voices side by side told?"""

from tonecompare.report.words.voice_words.side_by_side_words import (
    NEEDS_ONE_GAIN,
    chart_title,
    sound_titles,
    stage_sentences,
    tone_told,
)

__all__ = ["NEEDS_ONE_GAIN", "chart_title", "sound_titles", "stage_sentences", "tone_told"]
