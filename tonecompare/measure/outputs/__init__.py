"""Magnetic and piezo of the same pluck: how do they fit together?

What other rooms use
--------------------
``band_powers``: HIGH_HZ, LOW_HZ, output_bands
``channel_pairs``: blend_pairs
``measure_outputs``: BlendPair, BlendResult, measure_blend, QuietPair
``mixing``: RATIOS
``recorded_blend``: ratio_of_other_plucks, RecordedBlend
``results``: BandCross, BlendMap, BlendPair, BlendResult, ComplexArray, DelayFit, OutputQuality,
    PartialRatios
``string_balance``: off_line
"""
