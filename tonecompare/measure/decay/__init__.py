"""How long does it ring?

What other rooms use
--------------------
``beating_pairs``: pair_decays
``decay_time``: measure_decay
``energy_curve``: DecayCurve
"""
