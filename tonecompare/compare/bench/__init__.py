"""What do the takes of one stage say at the bench?

What other rooms use
--------------------
``exchanged_channels``: outputs_swapped, SWAPPED_REMEDY, SWAPPED_WHAT
``signs``: bench_signs, BenchSign
"""
