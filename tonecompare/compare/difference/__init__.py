"""What differs, by how much, how sure, and what may be said of it?"""
