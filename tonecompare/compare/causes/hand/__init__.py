"""Was it the hand: another picking place, another strength?

What other rooms use
--------------------
``glide_strength``: glide_strength, GlideStrength
``hand_spread``: plucks_of
``picking_place``: find_position
``picking_strength``: find_strength
"""
