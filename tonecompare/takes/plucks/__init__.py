"""Where does a note begin and end, and which note is it?"""
