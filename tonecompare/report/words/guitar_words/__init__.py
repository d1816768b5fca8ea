"""How is it told how guitars stand to each other, and what work on them cost and brought?

What other rooms use
--------------------
``cost_words``: amount, cost
``guitars_told``: chart_title, group_sentences
``step_returns``: finding, returns, steps_in_turn
``step_words``: audible_cell, by_voice, likely, names_of_new, step_sentences
"""
