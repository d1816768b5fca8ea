"""What does a pickup make of a moving string? Combs, circuits, distance and their sums.

:mod:`sensors` puts modes through combs and circuits, :mod:`filters` are the circuits,
:mod:`distance_law` bends what a near coil senses, :mod:`together` joins two pickups.
"""
