"""Was the gain turned?

What other rooms use
--------------------
``turned_gain``: find_gain
"""
