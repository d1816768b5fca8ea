"""How are a guitar's voices laid out side by side?"""

from tonecompare.report.page.voices.voices_section import VoicesSection, voices_section

__all__ = ["VoicesSection", "voices_section"]
