"""How does a sound run in time?

What other rooms use
--------------------
``decay``: averaged_decay, decay_chart
``phrase``: phrase_chart
"""
