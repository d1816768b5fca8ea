"""Was it heard? What the right answers of a blind test say.

Facts only: exact probabilities, limits and the sensitivity d′; the words live in the report.
"""
