"""Which open strings ring along (sympathetic resonance), and what do they do to the note?"""
