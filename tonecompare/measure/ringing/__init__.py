"""Which open strings ring along (sympathetic resonance), and what do they do to the note?

What other rooms use
--------------------
``narrow_lines``: BEFORE_ENDS_S, BEFORE_S, ring_frame, RingFrame
``sounding_strings``: with_sounding_strings
"""
