"""What do the curves of two stages look like, averaged over their plucks, notes and quiets?

What other rooms use
--------------------
``mean_curves``: average, Averaged, decays, partial_levels, plucks_of, Side
``mean_phrases``: mean_phrase, note_levels
``mean_spectra``: average_spectra
``quiet_spectrum``: bandwidth_hz, mains_peaks, middle
"""
