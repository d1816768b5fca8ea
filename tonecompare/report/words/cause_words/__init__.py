"""How is something other than the work told that may explain a difference?

What other rooms use
--------------------
``cause_terms``: CAUSES
``cause_text``: cause_text
``taken_out_text``: taken_out_text
``drift_words``: held_words, moved_words
"""
