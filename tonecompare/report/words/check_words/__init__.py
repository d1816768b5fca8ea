"""How is each fault of a take said: what is wrong, why it matters, what to do?

What other rooms use
--------------------
``fault_told``: kind_told, Told, told
``held_words``: held_sentence
"""
