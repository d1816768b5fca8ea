"""Do the files of a stage fit each other?

What other rooms use
--------------------
``channels_crossed``: channel_faults
``gain_moved``: gain_faults, gain_turned, hum_faults
``held_still``: held_faults, held_of
``swapped_voices``: swapped_faults
"""
