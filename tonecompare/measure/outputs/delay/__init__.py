"""By how much is one output electronically later than the other, and which way round is it?

What other rooms use
--------------------
``correlation_lag``: correlation_lag
``electronic_delay``: fit_delay
``first_motion``: delay_range_s
``partial_ratios``: check_pair, partial_ratios
"""
