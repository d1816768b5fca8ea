"""Where does one voice end and the next begin in one long recording?

What other rooms use
--------------------
``voices_in_a_row``: VoiceCut, cut_voices
"""
