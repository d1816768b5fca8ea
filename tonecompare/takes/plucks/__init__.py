"""Where does a note begin and end, and which note is it?

What other rooms use
--------------------
``chord_names``: chord_name, is_chord
``cut_and_name``: find_plucks, pooled_quiet, PooledQuiet, without
``detect``: band_floor, find_rises, Rise, SAME_PLUCK_S
``note_of_pluck``: cents_from_note, note_hz, open_strings, Pitch, pitch_of_note, string_number
``onset``: find_onset, Onset
"""
