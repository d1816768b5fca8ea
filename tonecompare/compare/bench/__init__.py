"""What do the takes of one stage say at the bench?

What other rooms use
--------------------
``exchanged_channels``: outputs_swapped
``signs``: bench_signs, BenchSign
"""
