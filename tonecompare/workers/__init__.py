"""Who does the work? Every recording once, here or on a cluster, and none that is known already.

What other rooms use
--------------------
``every_recording``: every_recording
``in_turn``: ProgressCall
"""
