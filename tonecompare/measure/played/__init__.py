"""Is it the same music, and how does it sound?

What other rooms use
--------------------
``measure_passage``: measure_passage
``passage_frames``: passage_frames, PassageFrames
``passages_of_session``: PassageKey, with_passages
"""
