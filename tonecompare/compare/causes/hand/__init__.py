"""Was it the hand: another picking place, another strength?"""
