"""Is it the same music, and how does it sound?

What other rooms use
--------------------
``measure_passage``: measure_passage
``passage_frames``: passage_frames, PassageFrames
``phrase_curves``: phrase_curves
``passages_of_session``: PassageKey, with_passages
"""
