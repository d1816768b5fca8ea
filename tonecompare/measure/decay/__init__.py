"""How long does it ring?

What other rooms use
--------------------
``beating_pairs``: pair_decays
``decay_time``: curve_time, measure_decay, STEP_S
``energy_curve``: decay_curve, DecayCurve, MAIN_RANGE_DB
"""
