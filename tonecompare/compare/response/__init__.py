"""By how much over frequency, and would an equaliser have done the same?"""
