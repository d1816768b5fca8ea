"""Which recordings make the demo session, and what does its ``session.toml`` say?"""
