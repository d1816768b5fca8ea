"""How loud, how bright is a pluck, and how is it balanced?

What other rooms use
--------------------
``band_decays``: measure_band_decays
``centroid``: band_levels, measure_centroid
``harmonic_balance``: measure_harmonics, TILT_FLOOR
``level_and_attack``: measure_attack, measure_level
``octave_bands``: measure_bands
"""
