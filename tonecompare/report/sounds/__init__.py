"""Which sounds are played, and how are two of them made fit to compare by ear?

Shared by the page's clips, the clip files, the film and the blind test, so that all play the same
plucks.
"""
