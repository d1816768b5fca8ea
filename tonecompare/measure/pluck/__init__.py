"""How loud, how bright is a pluck, and how is it balanced?"""
