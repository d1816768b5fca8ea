"""What does a pick do beside letting go? It slips, and a hard pluck starts sharp.

:mod:`pick_slip` is the scrape before the release, :mod:`pitch_glide` the falling pitch after it.
"""
