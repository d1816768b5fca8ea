"""How are sounds, pictures and what ears said of them worded?"""
