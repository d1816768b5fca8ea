"""Is one file good enough?"""
