"""Was it worth it?"""
