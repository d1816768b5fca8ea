"""By how much over frequency, and would an equaliser have done the same?

What other rooms use
--------------------
``acoustic_likeness``: likeness_of_session
``equaliser``: find_equalisers
``recordings_of_blends``: recordings_of_blends
``response_curve``: find_responses
``response_probes``: borne_out, Probes, probes_of
``spectral_distance``: Key, nearest, shape_distance, shapes_of, voices_at
"""
