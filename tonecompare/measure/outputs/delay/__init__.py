"""By how much is one output electronically later than the other, and which way round is it?"""
