"""Magnetic and piezo of the same pluck: how do they fit together?"""
