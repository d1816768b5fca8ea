"""Which partials, where, how strong and how fast do they die?"""
