"""How is it told how guitars stand to each other, and what work on them cost and brought?

What other rooms use
--------------------
``cost_words``: amount, cost
``guitars_told``: group_sentences, title_of
``step_words``: by_voice, finding, likely, names_of_new, returns, step_sentences, steps_in_turn
"""
