"""Where was it picked, where does the pickup sit, what is its resonance?

What other rooms use
--------------------
``pick_and_pickup``: amplitudes_of, find_positions, no_positions, Positions
``resonance``: resonance_moved, resonances_of
``shared_release``: fit_shared_release
"""
