"""How do several guitars, or stages of one, stand to each other?

What other rooms use
--------------------
``guitar_spread``: FEWEST_GUITARS, guitars_table, repeat_pairs, sessions_table, stock_stages
``side_by_side``: GuitarGroup, VoiceBeside, further_specs, guitar_groups, line_of, step_spec
"""
