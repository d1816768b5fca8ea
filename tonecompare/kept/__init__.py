"""What is known from earlier runs? Results kept by what went into them: nothing is done twice.

What other rooms use
--------------------
``checksums``: made_with, recording_key, report_key
``store``: Store, user_store
"""
