"""What does ``session.toml`` say? Read it, check it, name every fault at once.

What other rooms use
--------------------
``crosscheck``: check_comparisons
``read``: read_session_toml, SESSION_FILE, SessionFile
``schema``: dotted, Problems, quoted
"""
