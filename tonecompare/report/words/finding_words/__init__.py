"""How is a change of tone told in one phrase?

What other rooms use
--------------------
``tone_words``: CENTROID, parts_of, unchanged_texts
"""
