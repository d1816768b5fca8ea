"""How is a finding told: its subject, a change of tone, what else may explain it?

What other rooms use
--------------------
``cause_names``: cause_name
``explanations``: explanations
``left_open``: Case, not_shown, set_by_player, threshold_words, UNDECIDED, UNJUDGED
``subjects``: confounded_lead, leaves_out_zero, one_of_hum, places, says_nothing, subject
``tone_words``: bands_worth_telling, CENTROID, parts_of, unchanged_texts
``undecided``: undecided
"""
