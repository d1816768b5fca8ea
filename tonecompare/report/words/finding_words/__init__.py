"""How is a finding told: a change of tone, another cause?

What other rooms use
--------------------
``finding``: by_voice, Finding
``other_causes``: confounded_findings, taken_out
``tone_words``: bands_worth_telling, CENTROID, parts_of, unchanged_texts
"""
