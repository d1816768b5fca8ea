"""Was it worth it?

What other rooms use
--------------------
``work_steps``: Distance, FAMILIES, NewVoice, Step
"""
