"""How is a change of tone told in one phrase?

What other rooms use
--------------------
``tone_words``: bands_worth_telling, CENTROID, parts_of, unchanged_texts
"""
