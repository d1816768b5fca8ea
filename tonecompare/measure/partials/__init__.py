"""Which partials, where, how strong and how fast do they die?

What other rooms use
--------------------
``damped_sinusoids``: fit_damped
``exponential_rows``: exponentials
``narrow_bands``: band_gain, ThinnedBands
``partial_set``: BELOW_NOISE, LEAST_CERTAIN_LOG_AMPLITUDE, measure_partials_of, PartialSet
``pitch``: measure_pitch
``pitch_glide``: measure_glide
"""
