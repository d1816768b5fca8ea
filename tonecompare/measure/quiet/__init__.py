"""How much hum, buzz and hiss?"""
