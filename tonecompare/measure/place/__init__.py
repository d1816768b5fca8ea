"""Where was it picked, where does the pickup sit, what is its resonance?"""
