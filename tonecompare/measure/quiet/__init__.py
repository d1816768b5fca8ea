"""How much hum, buzz and hiss?

What other rooms use
--------------------
``hum_buzz_hiss``: measure_quiet, QuietResult
``noise_power``: noise_power_sd, pool_noise
``signal_to_hum``: with_signal_to_hum
``two_quiets``: coil_mismatch_from_residual, hum_hands
"""
