"""Is one file good enough?

What other rooms use
--------------------
``clipping_and_level``: level_faults
``file_origin``: source_faults
``notes_played``: note_faults
``odd_plucks``: outlier_faults
``played_music``: music_faults, played_again
``processed_sound``: processing_faults
``starts_and_ends``: ringing_faults
"""
