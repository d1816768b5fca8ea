"""How long does it ring?"""
